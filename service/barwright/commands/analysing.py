"""analyse: one recording file, without a database."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from barwright.commands.asked import BAD_USE, Trouble
from barwright.commands.file_options import file_options, layout_told

if TYPE_CHECKING:
    from barwright.commands.asked import Commands


def add_to(commands: Commands) -> None:
    """The options."""
    analyse = commands.add_parser("analyse", help="analyse one recording file, without a database")
    analyse.add_argument("file", metavar="FILE", help="CSV, Parquet, NDJSON, SenML, int16, JSON or CBOR")
    analyse.add_argument("--lift", default="snatch", help="a lift's code (default: snatch)")
    analyse.add_argument("--load-kg", type=float, metavar="N")
    analyse.add_argument(
        "--bar-axis", metavar="AXIS", help="sensor axis to the lifter's left: +x, -z, ... or 0.9,0.1,0"
    )
    file_options(analyse)
    analyse.add_argument("--json", action="store_true", help="print the set as the API answers it")
    analyse.add_argument(
        "--plot", metavar="OUT", help="write a report to OUT.html or OUT.svg: raw, rests, velocity, path, constraints"
    )
    analyse.set_defaults(run=_analyse)


def _analyse(told: argparse.Namespace) -> None:
    from barwright.analysis.quantities.unusable import UnusableSamples
    from barwright.ingest.refusals import Refusal
    from barwright.rep_table import table_of
    from barwright.workflows.analyse_file import FileRequest, analyse_and_keep
    from barwright.workflows.cannot import Cannot

    form = Path(told.plot).suffix.lstrip(".").lower() if told.plot else ""
    if told.plot and form not in ("html", "svg"):
        raise Trouble(f"--plot is {told.plot!r}; name a file that ends in .html or .svg", BAD_USE)
    try:
        body = Path(told.file).read_bytes()
    except OSError as error:
        raise Trouble(f"{told.file} cannot be read: {error.strerror}") from error
    asked = FileRequest(body, told.file, told.lift, _axis(told.bar_axis), layout_told(told))
    try:
        recording, analysis = analyse_and_keep(asked)
    except Cannot as error:
        raise Trouble(error.detail, BAD_USE) from error
    except (Refusal, UnusableSamples) as error:
        raise Trouble(f"{told.file}: {error.detail}") from error
    if told.plot:
        from barwright.report.report import report

        try:
            Path(told.plot).write_text(report(recording, analysis, Path(told.file).name, form), encoding="utf-8")
        except OSError as error:
            raise Trouble(f"{told.plot} cannot be written: {error.strerror}") from error
    if told.json:
        from barwright.api.shapes.sets import SetAnswer

        print(SetAnswer.of_file(analysis, told.load_kg).model_dump_json(indent=2))
    else:
        print(table_of(analysis))


def _axis(text: str | None) -> str | list[float] | None:
    if text is None or "," not in text:
        return text
    try:
        return [float(part) for part in text.split(",")]
    except ValueError as error:
        raise Trouble(
            f"--bar-axis is {text!r}; write +x, -z, ... or three numbers such as 0.9,0.1,0", BAD_USE
        ) from error
