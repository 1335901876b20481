"""preview: how a recording file would be understood, column by column, without a database."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from barwright.commands.asked import Trouble
from barwright.commands.file_options import file_options, layout_told

if TYPE_CHECKING:
    from collections.abc import Iterator

    from barwright.commands.asked import Commands
    from barwright.ingest.preview import ColumnPreview, FilePreview


def add_to(commands: Commands) -> None:
    """The options."""
    preview = commands.add_parser("preview", help="how one recording file would be understood, without a database")
    preview.add_argument("file", metavar="FILE")
    file_options(preview)
    preview.add_argument("--json", action="store_true", help="print what the API answers")
    preview.set_defaults(run=_preview)


def _preview(told: argparse.Namespace) -> None:
    from barwright.ingest.limits import Limits
    from barwright.ingest.preview import preview_recording

    layout = layout_told(told)
    try:
        body = Path(told.file).read_bytes()
    except OSError as error:
        raise Trouble(f"{told.file} cannot be read: {error.strerror}") from error
    found = preview_recording(body, told.file, None, layout, Limits())
    if told.json:
        from barwright.api.shapes.recordings import PreviewAnswer

        print(PreviewAnswer.of(found, "/v1/recordings").model_dump_json(indent=2))
    else:
        print("\n".join(words_of(found)))
    if found.refusal is not None:
        raise Trouble(f"{told.file}: {found.refusal.detail}")


def words_of(found: FilePreview) -> Iterator[str]:
    """The preview as lines of text."""
    yield ", ".join((found.form or "not known", *found.words))
    for column in found.columns:
        yield f"  {_words_of_column(column)}"
    if found.timing is not None:
        rate = "" if found.timing.rate_hz is None else f" at {found.timing.rate_hz:.4g} Hz"
        gaps = f"{found.timing.gaps} gaps, the longest {1000 * found.timing.longest_gap_s:.0f} ms"
        said = gaps if found.timing.gaps else "no gaps"
        yield f"{found.timing.samples} samples{rate} over {found.timing.duration_s:.1f} s, {said}"
    if found.at_rest is not None and found.units is not None:
        yield f"at rest the accelerometer reads {found.at_rest.size:.4g} {found.units['accel']}"
    yield from found.notes


def _words_of_column(column: ColumnPreview) -> str:
    if column.channel is None:
        return f"{column.header} -> left out: {column.why}"
    unit = f"in {column.unit} ({column.unit_from})" if column.unit else "in a unit not known"
    values = " ".join(str(value) for value in column.first)
    return f"{column.header} -> {column.channel} {unit}" + (f": {values}" if values else "")
