"""The pretended camera: where it stands, what its lens and sensor do to light.

Coordinates everywhere in the practice room are those of the scale card's printed
face: x to the right along the card's long side, y down, and depth away from the
camera, in mm from the card's middle. Pixel (0, 0) is the middle of the first pixel.
"""

import cv2
import numpy as np
from msgspec import Struct


class View(Struct, frozen=True, eq=False):
    """A pinhole camera with one radial term.

    A point X is seen at the normalised image point p = (Xc/Zc, Yc/Zc), where
    (Xc, Yc, Zc) = rotation X + translation, and drawn at
    ``centre + focal_px * p * (1 + radial * |p|^2)``.
    """

    width: int
    height: int
    focal_px: float
    rotation: np.ndarray  # (3, 3)
    translation: np.ndarray  # (3,)
    radial: float = 0.0

    @property
    def centre(self) -> np.ndarray:
        return np.array([(self.width - 1) / 2, (self.height - 1) / 2])

    @property
    def position(self) -> np.ndarray:
        """Where the camera stands, (x, y, depth) in mm; the depth is negative."""
        return -self.rotation.T @ self.translation

    def project(self, points: np.ndarray) -> np.ndarray:
        """Pixels (N, 2) of points (N, 3), or (N, 2) on the card's face."""
        points = np.atleast_2d(np.asarray(points, float))
        if points.shape[1] == 2:
            points = np.column_stack([points, np.zeros(len(points))])
        seen = points @ self.rotation.T + self.translation
        flat = seen[:, :2] / seen[:, 2:]
        square = (flat**2).sum(axis=1, keepdims=True)
        return self.centre + self.focal_px * flat * (1 + self.radial * square)

    def to_plane(self, pixels: np.ndarray, depth: float = 0.0) -> np.ndarray:
        """Points (N, 2) in mm where pixels (N, 2) meet the plane at ``depth``."""
        pixels = np.atleast_2d(np.asarray(pixels, float))
        slope_x, slope_y = self._slopes(pixels[:, 0], pixels[:, 1])
        x, y, z = self.position
        return np.column_stack([x + (depth - z) * slope_x, y + (depth - z) * slope_y])

    def slopes(self, rows: slice) -> tuple[np.ndarray, np.ndarray]:
        """dx/ddepth and dy/ddepth of the ray of every pixel of ``rows``, float32."""
        u = np.arange(self.width, dtype=np.float32)[None, :]
        v = np.arange(rows.start, rows.stop, dtype=np.float32)[:, None]
        return self._slopes(u, v)

    def _slopes(self, u: np.ndarray, v: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        x = (u - u.dtype.type(self.centre[0])) / u.dtype.type(self.focal_px)
        y = (v - v.dtype.type(self.centre[1])) / v.dtype.type(self.focal_px)
        if self.radial:
            q = self.radial * (x * x + y * y)
            # Series of the inverse of r (1 + k r^2); the next term is below 1e-6 of r
            # for every distortion the practice camera has.
            undo = 1 + q * (-1 + q * (3 + q * (-12 + q * 55)))
            x, y = x * undo, y * undo
        r = self.rotation.astype(u.dtype)
        toward = r[0, 2] * x + r[1, 2] * y + r[2, 2]
        return (
            (r[0, 0] * x + r[1, 0] * y + r[2, 0]) / toward,
            (r[0, 1] * x + r[1, 1] * y + r[2, 1]) / toward,
        )


class Conditions(Struct, frozen=True, kw_only=True):
    """How a scene is photographed. Pixels are those of the picture itself.

    ``field_mm`` is the width of what is seen at the card; ``tilt_x_deg`` and
    ``tilt_y_deg`` lean the camera along x and along y (across the seam);
    ``blur_px`` is the standard deviation of the lens and sensor blur,
    ``defocus_px`` the diameter of the out-of-focus disc, ``motion_px`` the
    length and ``motion_deg`` the direction of a shake. ``exposure`` is in stops;
    ``shading`` and ``glare`` are 0 for none and 1 for strong; ``noise`` is the
    standard deviation in grey levels of a mid grey; ``sharpen`` the weight of
    an unsharp mask of 1.2 px; ``contrast`` the weight of an S-curve.
    """

    width: int = 4000
    height: int = 3000
    field_mm: float = 104.0
    focal_widths: float = 1.3  # focal length in picture widths
    tilt_x_deg: float = 0.0
    tilt_y_deg: float = 0.0
    roll_deg: float = 0.0
    shift_x_mm: float = 0.0
    shift_y_mm: float = 0.0
    radial: float = 0.0
    blur_px: float = 0.7
    defocus_px: float = 0.0
    motion_px: float = 0.0
    motion_deg: float = 0.0
    exposure: float = 0.0
    shading: float = 0.3
    glare: float = 0.0
    glare_x: float = 0.5  # where the glare lies, in picture widths and heights
    glare_y: float = 0.5
    noise: float = 2.0
    sharpen: float = 0.4
    contrast: float = 0.15
    jpeg_quality: int = 93


def view_of(conditions: Conditions, aim: tuple[float, float]) -> View:
    """The camera of ``conditions`` aimed at a point (x, y) of the card's face."""
    c = conditions
    focal = c.focal_widths * c.width
    distance = c.field_mm * c.focal_widths
    rotation = _turn(2, c.roll_deg) @ _turn(0, c.tilt_y_deg) @ _turn(1, -c.tilt_x_deg)
    middle = np.array([aim[0] + c.shift_x_mm, aim[1] + c.shift_y_mm, 0.0])
    translation = np.array([0.0, 0.0, distance]) - rotation @ middle
    return View(c.width, c.height, focal, rotation, translation, c.radial)


def expose(light: np.ndarray, conditions: Conditions, seed: int) -> np.ndarray:
    """The picture (H, W, 3) uint8 BGR that a sensor makes of linear light.

    ``light`` is three planes (3, H, W) float32, blue, green and red, 1 where paper
    in full light is just short of white; it is used up. In the order of a real camera:
    lens, shake, exposure and falling off to the corners, noise, tone curve
    (IEC 61966-2-1), sharpening.
    """
    noise = _noise(light.shape[1:], seed)
    falloff = _corner_falloff(conditions) * np.float32(2.0**conditions.exposure)
    colours = [_through_lens(plane, conditions) for plane in light]
    for plane in colours:
        plane *= falloff
    strength = _noise_strength(colours[1], conditions)
    curve = _tone_curve(conditions.contrast)
    for plane, grain in zip(colours, noise, strict=True):
        plane += grain * strength
    return cv2.merge([_developed(plane, curve, conditions.sharpen) for plane in colours])


def _developed(light: np.ndarray, curve: np.ndarray, sharpen: float) -> np.ndarray:
    """Grey levels (H, W) uint8 of one colour's light, which is used up."""
    np.clip(light, 0, 1, out=light)
    light *= _STEPS
    light += 0.5
    picture = curve[light.astype(np.uint16)]
    if not sharpen:
        return cv2.convertScaleAbs(picture)
    soft = cv2.GaussianBlur(picture, (0, 0), 1.2)
    return cv2.addWeighted(picture, 1 + sharpen, soft, -sharpen, 0, dtype=cv2.CV_8U)


def _through_lens(light: np.ndarray, c: Conditions) -> np.ndarray:
    if c.blur_px:
        light = cv2.GaussianBlur(light, (0, 0), c.blur_px)
    if c.defocus_px:
        light = cv2.filter2D(light, -1, disc(c.defocus_px), borderType=cv2.BORDER_REPLICATE)
    if c.motion_px:
        light = cv2.filter2D(light, -1, streak(c.motion_px, c.motion_deg), borderType=cv2.BORDER_REPLICATE)
    return light


def disc(diameter: float) -> np.ndarray:
    """An out-of-focus disc as a kernel that sums to 1."""
    return _kernel(diameter, lambda x, y: np.hypot(x, y) <= diameter / 2)


def streak(length: float, angle_deg: float) -> np.ndarray:
    """A straight, even shake as a kernel that sums to 1, about one pixel wide."""
    cosine, sine = np.cos(np.radians(angle_deg)), np.sin(np.radians(angle_deg))
    return _kernel(
        length + 1,
        lambda x, y: (abs(x * cosine + y * sine) <= length / 2) & (abs(y * cosine - x * sine) <= 0.25),
    )


def _kernel(extent: float, inside) -> np.ndarray:
    """Area coverage of a shape on pixels, from 15 x 15 samples in each."""
    half = int(np.ceil(extent / 2)) + 1
    fine = 15
    at = (np.arange((2 * half + 1) * fine) + 0.5) / fine - half - 0.5
    shape = inside(at[None, :], at[:, None]).astype(np.float32)
    size = 2 * half + 1
    kernel = shape.reshape(size, fine, size, fine).mean(axis=(1, 3))
    return kernel / kernel.sum()


def _corner_falloff(c: Conditions) -> np.ndarray:
    """Natural fall-off, cos^4 of the field angle, for each pixel (H, W)."""
    x = (np.arange(c.width, dtype=np.float32) - (c.width - 1) / 2) / (c.focal_widths * c.width)
    y = (np.arange(c.height, dtype=np.float32) - (c.height - 1) / 2) / (c.focal_widths * c.width)
    square = (x**2)[None, :] + (y**2)[:, None]
    return 1 / np.square(1 + square)


# Slope of the sRGB curve at mid grey, grey levels per unit of linear light.
_MID_GREY = 0.2140
_MID_SLOPE = 255 * 1.055 / 2.4 * _MID_GREY ** (1 / 2.4 - 1)


def _noise(shape: tuple[int, int], seed: int) -> list[np.ndarray]:
    """Of each colour (H, W) float32. Colour noise is coarser and weaker, as after
    demosaicing."""
    rng = np.random.default_rng([seed, 77])
    height, width = shape
    grain = rng.standard_normal((height, width), dtype=np.float32)
    small = rng.standard_normal((height // 2 + 1, width // 2 + 1, 3), dtype=np.float32)
    small *= 0.5
    return [
        cv2.resize(one, (width, height), interpolation=cv2.INTER_LINEAR) + grain for one in cv2.split(small)
    ]


def _noise_strength(green: np.ndarray, c: Conditions) -> np.ndarray:
    """Photon noise grows with the root of the light; a constant part is the sensor's own."""
    level = np.maximum(green, 0)
    level *= np.float32(0.8 / _MID_GREY)
    level += np.float32(0.2)
    return np.sqrt(level) * np.float32(c.noise / _MID_SLOPE)


_STEPS = 16384


def _tone_curve(contrast: float) -> np.ndarray:
    """Grey levels 0 to 255 as float32 for light of 0 to 1 in _STEPS steps."""
    curve = srgb_encode(np.arange(_STEPS + 1) / _STEPS)
    curve += contrast * (curve * curve * (3 - 2 * curve) - curve)
    return (255 * curve).astype(np.float32)


def srgb_encode(linear: np.ndarray) -> np.ndarray:
    """The sRGB curve of IEC 61966-2-1, 0 to 1 in and out."""
    linear = np.asarray(linear, float)
    return np.where(
        linear <= 0.0031308, 12.92 * linear, 1.055 * np.maximum(linear, 1e-9) ** (1 / 2.4) - 0.055
    )


def _turn(axis: int, degrees: float) -> np.ndarray:
    """Rotation about x (0), y (1) or z (2)."""
    rotation, _ = cv2.Rodrigues(np.radians(degrees) * np.eye(3)[axis])
    return rotation
