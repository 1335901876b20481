"""Forms of streams that were looked up lately: a block of a known stream asks the database nothing."""

from __future__ import annotations

from threading import Lock

from barwright.storage.streams import StreamForm


class StreamForms:
    """Up to `most` of them. A form never changes; whether the stream is still there the writing of a block finds."""

    def __init__(self, most: int = 4096) -> None:
        self._most = most
        self._lock = Lock()
        self._forms: dict[tuple[str, str], StreamForm] = {}

    def get(self, club_id: str, stream_id: str) -> StreamForm | None:
        """The form of a club's stream, if it is known here."""
        return self._forms.get((club_id, stream_id))

    def keep(self, club_id: str, form: StreamForm) -> None:
        """Remembers one; of too many the oldest goes."""
        with self._lock:
            self._forms[club_id, form.id] = form
            while len(self._forms) > self._most:
                del self._forms[next(iter(self._forms))]
