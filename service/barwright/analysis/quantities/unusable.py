"""The only errors the analysis raises."""


class UnusableSamples(ValueError):  # noqa: N818 - says what it is
    """The samples cannot be analysed; `code` is stable, the text says what was wrong and what would be right."""

    def __init__(self, code: str, detail: str) -> None:
        super().__init__(detail)
        self.code = code
        self.detail = detail
