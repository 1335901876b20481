"""One recording file to an analysis, without any database."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from barwright.analysis.motion.samples import Recording
from barwright.analysis.quantities.lifts import LIFTS
from barwright.analysis.quantities.unusable import UnusableSamples
from barwright.analysis.reps.results import SetAnalysis
from barwright.ingest.file_layout import FileLayout
from barwright.ingest.limits import Limits
from barwright.ingest.mounting import parse_bar_axis
from barwright.ingest.recording_file import read_recording_file
from barwright.ingest.recording_of import recording_of
from barwright.storage.devices import DeviceFacts, Mounting
from barwright.workflows.analysis_job import sensor_setup, sentence
from barwright.workflows.cannot import unknown_lift
from barwright.workflows.finite import check_finite


@dataclass(frozen=True, slots=True)
class FileRequest:
    """layout: what was told of the file, for what it does not say of itself."""

    body: bytes
    filename: str
    lift: str
    bar_axis: str | list[float] | None = None
    layout: FileLayout = field(default_factory=FileLayout)


def analyse_file(asked: FileRequest) -> SetAnalysis:
    """The analysis of a file. Raises Cannot, Refusal and UnusableSamples, each with `detail`."""
    return analyse_and_keep(asked)[1]


def analyse_and_keep(asked: FileRequest) -> tuple[Recording, SetAnalysis]:
    """The samples of a file with their analysis. Raises the same."""
    if asked.lift not in LIFTS:
        raise unknown_lift(asked.lift)
    axis = None if asked.bar_axis is None else parse_bar_axis(asked.bar_axis, ("bar_axis",))
    file = read_recording_file(asked.body, asked.filename, None, None, Limits(), asked.layout)
    device = DeviceFacts("file", "imu" if file.kind == "imu" else "encoder", Mounting(bar_axis=axis))
    recording = recording_of(file.blocks, file.kind, file.units, sensor_setup(device, None))

    from barwright.analysis.reps.set_analysis import analyse_set  # scipy loads only once the file can be read

    try:
        analysis = check_finite(analyse_set(recording, LIFTS[asked.lift]))
    except UnusableSamples as unusable:
        raise UnusableSamples(unusable.code, " ".join((sentence(unusable.detail), *file.notes))) from unusable
    return recording, replace(analysis, notes=file.notes + analysis.notes)
