"""A photo file becomes upright pixels and what the camera said of itself."""

from photomeasure.photo.exif import FocalHint
from photomeasure.photo.load import Photo, load_photo

__all__ = ["FocalHint", "Photo", "load_photo"]
