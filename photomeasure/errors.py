"""The one family of refusals: what is wrong, then what to do.

PhotomeasureError
├── UsageError              usage            the command line is wrong (exit 2)
└── MeasuringError          (exit 3)
    ├── MissingFileError    no-file
    ├── NotAPictureError    not-a-picture
    ├── TooLargeError       too-large
    ├── NoReferenceError    no-reference
    ├── WrongPrintError     wrong-print
    ├── BlurredError        blurred
    ├── TooFewCornersError  too-few-corners
    ├── SheetNotFlatError   sheet-not-flat
    ├── TooFarError         too-far
    ├── NoFittingError      no-fitting
    ├── NoThreadError       no-thread
    ├── NoLineError         no-line
    ├── TooUncertainError   too-uncertain
    ├── NotConnectedError   not-connected
    ├── TooFewPhotosError   too-few-photos
    ├── BadJobError         bad-job
    ├── BadProfileError     bad-profile
    ├── WrongCameraError    wrong-camera
    ├── TableError          bad-table
    └── NoPlanError         no-plan
"""

from typing import ClassVar

__all__ = [
    "BadJobError",
    "BadProfileError",
    "BlurredError",
    "MeasuringError",
    "MissingFileError",
    "NoFittingError",
    "NoLineError",
    "NoPlanError",
    "NoReferenceError",
    "NoThreadError",
    "NotAPictureError",
    "NotConnectedError",
    "PhotomeasureError",
    "SheetNotFlatError",
    "TableError",
    "TooFarError",
    "TooFewCornersError",
    "TooFewPhotosError",
    "TooLargeError",
    "TooUncertainError",
    "UsageError",
    "WrongCameraError",
    "WrongPrintError",
]


class PhotomeasureError(Exception):
    """A refusal the person at the bench can act on: what is wrong, then what to do."""

    code: ClassVar[str]

    def __init__(self, message: str, remedy: str) -> None:
        super().__init__(message, remedy)
        self.message, self.remedy = message, remedy

    def __str__(self) -> str:
        return f"{self.message} {self.remedy}"


class UsageError(PhotomeasureError):
    """The command line or an entry cannot be understood."""

    code = "usage"


class MeasuringError(PhotomeasureError):
    """What was given cannot be measured."""


class MissingFileError(MeasuringError):
    """The file does not exist or cannot be read."""

    code = "no-file"


class NotAPictureError(MeasuringError):
    """The file is no picture, or a damaged one."""

    code = "not-a-picture"


class TooLargeError(MeasuringError):
    """The picture or file is larger than the limits."""

    code = "too-large"


class NoReferenceError(MeasuringError):
    """No printed reference is seen."""

    code = "no-reference"


class WrongPrintError(MeasuringError):
    """A print is seen, but not the kind or version that this reading needs."""

    code = "wrong-print"


class BlurredError(MeasuringError):
    """The picture is out of focus or shaken."""

    code = "blurred"


class TooFewCornersError(MeasuringError):
    """Too little of the reference is seen round the part."""

    code = "too-few-corners"


class SheetNotFlatError(MeasuringError):
    """The paper is bent more than the model can follow."""

    code = "sheet-not-flat"


class TooFarError(MeasuringError):
    """The camera stood too far off for the detail that is needed."""

    code = "too-far"


class NoFittingError(MeasuringError):
    """Nothing that looks like a fitting lies on the bed."""

    code = "no-fitting"


class NoThreadError(MeasuringError):
    """A part is seen, but no thread on it."""

    code = "no-thread"


class NoLineError(MeasuringError):
    """No line of tape, cord or hose is seen."""

    code = "no-line"


class TooUncertainError(MeasuringError):
    """The reading would be too uncertain to be of use."""

    code = "too-uncertain"


class NotConnectedError(MeasuringError):
    """The photos do not show one common reference."""

    code = "not-connected"


class TooFewPhotosError(MeasuringError):
    """More photos are needed."""

    code = "too-few-photos"


class BadJobError(MeasuringError):
    """A job or answer file cannot be read."""

    code = "bad-job"


class BadProfileError(MeasuringError):
    """A lens profile cannot be read or written."""

    code = "bad-profile"


class WrongCameraError(MeasuringError):
    """Photos of another camera, zoom or shape than the lens profile, or than each other."""

    code = "wrong-camera"


class TableError(MeasuringError):
    """A table of data has a bad row."""

    code = "bad-table"


class NoPlanError(MeasuringError):
    """No chain of adapters on the shelf joins the ports to one hose."""

    code = "no-plan"
