"""Thin Python client for a Barwright bar-velocity service.

with Client("http://127.0.0.1:8400", key) as client:
    result = client.record("set.csv", lift="snatch", load_kg=60, athlete="Imke", device="bar sensor", bar_axis="+x")
    print(result.reps[0]["peak_velocity"])
"""

from barwright_client.answers import (
    Athlete,
    BlockReceipt,
    Closed,
    Device,
    Lift,
    Phase,
    Quality,
    Rep,
    RepPath,
    SetResult,
    Stream,
)
from barwright_client.async_client import AsyncClient
from barwright_client.attempts import RetryPolicy
from barwright_client.bench import Compared, DeviceCheck, ExpectedError, KnownMotion, SensorChange, StringSetup
from barwright_client.blocks import CutBy
from barwright_client.calibrations import Calibration, Constants, PosesFound
from barwright_client.client import Client
from barwright_client.errors import (
    Broken,
    ClientError,
    Conflict,
    NotAllowed,
    NotFound,
    NotReached,
    NotSignedIn,
    Problem,
    Refused,
    TooFast,
)
from barwright_client.events import Event
from barwright_client.figures import Figure
from barwright_client.frames import path_frame, reps_frame
from barwright_client.gym import GymRep, GymScreen, StopAdvice
from barwright_client.live_sender import AsyncLiveSender, LiveSender
from barwright_client.live_stream import AsyncStreamWriter, StreamWriter
from barwright_client.previews import Preview, PreviewColumn
from barwright_client.records import AnalysisRun, ApiKey, Deed
from barwright_client.replay import Replayed
from barwright_client.spool import Spool, SpooledSet
from barwright_client.technique import (
    Advice,
    Comparison,
    Drill,
    DrillAdvice,
    DrillResponse,
    Fault,
    Prescription,
    Technique,
    Waiting,
)
from barwright_client.training import (
    Imported,
    LiftReadiness,
    Load,
    Loads,
    Maximum,
    Plan,
    Point,
    Profile,
    Readiness,
    StrengthDay,
    VelocityLoss,
    Zone,
    Zones,
)

__all__ = [
    "Advice",
    "AnalysisRun",
    "ApiKey",
    "AsyncClient",
    "AsyncLiveSender",
    "AsyncStreamWriter",
    "Athlete",
    "BlockReceipt",
    "Broken",
    "Calibration",
    "Client",
    "ClientError",
    "Closed",
    "Compared",
    "Comparison",
    "Conflict",
    "Constants",
    "CutBy",
    "Deed",
    "Device",
    "DeviceCheck",
    "Drill",
    "DrillAdvice",
    "DrillResponse",
    "Event",
    "ExpectedError",
    "Fault",
    "Figure",
    "GymRep",
    "GymScreen",
    "Imported",
    "KnownMotion",
    "Lift",
    "LiftReadiness",
    "LiveSender",
    "Load",
    "Loads",
    "Maximum",
    "NotAllowed",
    "NotFound",
    "NotReached",
    "NotSignedIn",
    "Phase",
    "Plan",
    "Point",
    "PosesFound",
    "Prescription",
    "Preview",
    "PreviewColumn",
    "Problem",
    "Profile",
    "Quality",
    "Readiness",
    "Refused",
    "Rep",
    "RepPath",
    "Replayed",
    "RetryPolicy",
    "SensorChange",
    "SetResult",
    "Spool",
    "SpooledSet",
    "StopAdvice",
    "Stream",
    "StreamWriter",
    "StrengthDay",
    "StringSetup",
    "Technique",
    "TooFast",
    "VelocityLoss",
    "Waiting",
    "Zone",
    "Zones",
    "path_frame",
    "reps_frame",
]
