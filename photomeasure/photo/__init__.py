"""A photo file becomes upright pixels and what the camera said of itself."""

from photomeasure.photo.exif import CameraNotes, FocalHint
from photomeasure.photo.load import Photo, load_photo
from photomeasure.photo.profile import LensName, LensProfile, quarter_turn

__all__ = [
    "CameraNotes",
    "FocalHint",
    "LensName",
    "LensProfile",
    "Photo",
    "load_photo",
    "quarter_turn",
]
