"""Width of a gap from profiles across it, all stations at once.

Model of the light along a profile, before the blur: panel, an edge strip (a chamfer's
bright line, or a rounding's dark one), the gap, the far wall as far as one looks onto it,
another edge strip, frame. Each step is blurred by a Gaussian, so the profile is a sum of
normal distribution functions. Every station has its own place, width and two levels;
strips, darkness, the wall's light and blur are common to the seam and bound by what is
known of them beforehand; what may be known of plain, chamfered, bright and rounded edges
is tried in turn, and the evidence chooses. The width reaches from edge to edge; the wall
is part of it. The fit is a penalised least squares (Levenberg and Marquardt) whose normal
equations are reduced to the common unknowns (Schur complement); their inverse gives the
covariances.
"""

from __future__ import annotations

import numpy as np
from msgspec import Struct
from msgspec.structs import replace
from scipy.special import ndtr


class Prior(Struct, frozen=True, eq=False):
    """What is known beforehand of the common unknowns, (K,) each: the log of the blur's
    factor, the darkness of the gap (reflectance), width (mm) and light of the near and of
    the far strip, the wall's reflectance (K = 7) and how far off its edge (mm) the near and
    the far strip start (K = 9). ``u`` is the standard uncertainty of ``mean``."""

    mean: np.ndarray
    u: np.ndarray
    low: np.ndarray
    high: np.ndarray

    def beside(self, surfaces: np.ndarray, blur_u: float) -> Prior:
        """For a blur known to ``blur_u`` and two ``surfaces`` of these reflectances: a strip
        that is much darker than its own surface is the gap's dark."""
        low = self.low.copy()
        low[[3, 5]] = np.maximum(low[[3, 5]], -_DARKEST_STRIP * surfaces)
        return Prior(self.mean, np.array([blur_u, *self.u[1:]]), low, self.high)


def _edges(near: float, far: float, light_u: float, floor_u: float, start_u: float) -> Prior:
    """Strips of lights known to ``light_u``, that start off the edge by about ``start_u`` mm."""
    start = start_u / 2
    # Wherever a strip may be bright, one darker than this is the gap's own dark.
    darkest = -0.05
    return Prior(
        np.array([0.0, max(0.012, floor_u), 0.08, near, 0.08, far, 0.05, start, start]),
        np.array([0.05, floor_u, 0.05, light_u, 0.05, light_u, 0.05, start_u, start_u]),
        np.array([-0.4, 0.0, 0.015, darkest, 0.015, darkest, 0.0, 0.0, 0.0]),
        np.array([0.4, 0.30, 0.25, 0.60, 0.25, 0.60, 0.40, 5 * start_u, 5 * start_u]),
    )


PLAIN = _edges(0.0, 0.0, 0.006, 0.009, 1e-4)
CHAMFERED = _edges(0.02, 0.0, 0.04, 0.009, 1e-4)
BRIGHT = _edges(0.08, 0.08, 0.12, 0.03, 1e-4)  # about a floor that may be bright as well
ROUNDED = _edges(0.08, 0.08, 0.12, 0.03, 0.04)  # its highlight starts off the edge
_STRIP = "strip beside the gap"
COMMON = ("edge spread", "darkness of the gap", *4 * [_STRIP], "wall of the gap", *2 * [_STRIP])
_LOCAL = 4  # middle, width, level before, level after
_STEPS = 40
_LEAST_WIDTH = 0.004
_STRIPS = ((2, 3), (4, 5))  # places of width and light among the common unknowns
_LEAST_STRIP_LIGHT = 0.03  # reflectance over the surface beside it; darker is no strip
_BRIGHT_STRIP = 0.08
_DARKEST_STRIP = 0.4  # of its surface's light, by which a strip may be darker
_NO_EDGES = 0.5  # own uncertainty of the widths over them from which no other edges are tried
# Neighbouring samples and stations err together, so what the profiles say for one kind of
# edges against another counts as an eighth.
_DOUBT = 8.0
MOST_BLUR_CHANGE = 0.15  # of the logarithm, against the card's edges


# Fields of a fit that hold a value for each station.
STATIONS = tuple(
    ["middle", "width", "before", "after", "misfit", "own_u", "own_cov", "common_slope", "middle_slope"]
)


class GapFit(Struct, frozen=True, eq=False):
    """Results for each station (N,): middle and width in mm, levels before and after,
    ``noise`` the residual's spread. ``own_u`` (N,) is the uncertainty of each width
    from its own profile, ``own_cov`` (N, 2, 2) the covariance of middle and width;
    ``common_slope`` and ``middle_slope`` (N, K) how each width and each middle follow the
    common unknowns, whose covariance is ``common_cov``; ``choice_u`` (mm) by how much the
    median width hangs on which kind of edges was taken."""

    middle: np.ndarray
    width: np.ndarray
    before: np.ndarray
    after: np.ndarray
    misfit: np.ndarray
    own_u: np.ndarray
    own_cov: np.ndarray
    common: np.ndarray
    common_cov: np.ndarray
    common_slope: np.ndarray
    middle_slope: np.ndarray
    prior: Prior
    cost: float
    choice_u: float = 0.0

    @property
    def evidence(self) -> float:
        """Logarithm of the evidence for the prior that was used, but for a constant, by
        Laplace's method (MacKay, Information Theory, Inference, and Learning Algorithms,
        chapters 27 and 28)."""
        return (np.linalg.slogdet(self.common_cov)[1] - self.cost) / 2 - np.log(self.prior.u).sum()

    @property
    def doubted_u(self) -> float:
        """Uncertainty that the common unknowns give to the mean width when what the profiles
        say of them is doubted as much as what they say of the kinds of edges."""
        known = np.diag(1 / self.prior.u**2)
        doubted = (np.linalg.inv(self.common_cov) - known) / _DOUBT + known
        slope = self.common_slope.mean(axis=0)
        return float(np.sqrt(slope @ np.linalg.solve(doubted, slope)))

    @property
    def unusual(self) -> bool:
        """Whether its edges are other than plain or narrowly chamfered ones."""
        return bool(self.prior.u[_STRIPS[0][1]] > CHAMFERED.u[_STRIPS[0][1]])

    @property
    def darkness(self) -> float:
        return float(self.common[1])

    @property
    def strangeness(self) -> float:
        """How far the strips beside the gap are from what is usual, in standard
        deviations: large when something else than a chamfer was taken for one. Where a
        strip has no light its width means nothing: beside a plain edge it drifts."""
        known = self.prior if self.unusual else CHAMFERED
        off = np.abs((self.common - known.mean) / known.u)
        for width, light in _STRIPS:
            if abs(self.common[light]) < _LEAST_STRIP_LIGHT:
                off[width] = 0.0
        return float(off[2:6].max())

    def common_u(self, weight: np.ndarray) -> float:
        """Uncertainty that the common unknowns give to a weighted mean of widths."""
        slope = weight @ self.common_slope
        return float(np.sqrt(max(0.0, slope @ self.common_cov @ slope)))

    def common_share(self, weight: np.ndarray) -> dict[str, float]:
        """``common_u`` split by cause; the squares add up to its square (covariances are
        shared out in proportion)."""
        slope = weight @ self.common_slope
        whole = self.common_u(weight)
        parts: dict[str, float] = {}
        for name, variance in zip(COMMON, slope**2 * np.diag(self.common_cov), strict=True):
            if variance:
                parts[name] = parts.get(name, 0.0) + float(variance)
        total = sum(parts.values()) or 1.0
        return {name: whole * float(np.sqrt(part / total)) for name, part in parts.items()}


class Profiles(Struct, frozen=True, eq=False):
    """``light`` (N, M) reflectances at ``across`` (M,) mm; ``blur`` (N,) the standard
    deviation of the blur in mm; ``wall`` (N,) by how many mm one looks onto the wall below
    the far edge; samples count where ``use`` (N, M) is true."""

    light: np.ndarray
    across: np.ndarray
    blur: np.ndarray
    wall: np.ndarray
    use: np.ndarray


def _seam(light: np.ndarray, across: np.ndarray, blur: np.ndarray) -> Profiles:
    return Profiles(light, across, blur, np.zeros(len(light)), np.ones(light.shape, bool))


def fit_gap(light: np.ndarray, across: np.ndarray, blur_mm: np.ndarray, blur_u: float) -> GapFit:
    """The gap of an even seam: ``light`` (N, M) reflectances at ``across`` (M,) mm,
    ``blur_mm`` (N,) the blur with relative uncertainty ``blur_u``."""
    mean = _seam(np.median(light, axis=0)[None, :], across, np.array([float(np.median(blur_mm))]))
    noise = max(0.0015, 1.4826 * float(np.median(np.abs(np.diff(light, axis=1)))))
    seam, ends = _seam(light, across, blur_mm), _edge_levels(light, across)

    def fitted(edges: Prior, *known: GapFit) -> GapFit:
        prior = edges.beside(np.median(ends, axis=0), blur_u)
        local, common, _ = _started(mean, prior, noise / 3, known)
        local = np.column_stack([np.repeat(local[:, :2], len(light), axis=0), ends])
        local, common, cost = _solve(seam, local, common, prior, noise, _STEPS)
        return _judged(seam, local, common, cost, prior)

    usual = fitted(CHAMFERED)
    found = [usual]
    if float(np.median(usual.own_u / usual.width)) < _NO_EDGES:
        lit = max(usual.common[light] for _, light in _STRIPS)
        if lit < _LEAST_STRIP_LIGHT:
            found.append(fitted(PLAIN, usual))
        if lit > _BRIGHT_STRIP or usual.darkness > _LEAST_STRIP_LIGHT:
            found.append(fitted(BRIGHT, usual))
        found.append(fitted(ROUNDED, usual))
    # Edges that only fit with another blur than the card's are not these.
    found = [fit for fit in found if abs(fit.common[0]) <= MOST_BLUR_CHANGE] or found
    best = max(found, key=lambda fit: fit.evidence)
    share = np.exp([(fit.evidence - best.evidence) / _DOUBT for fit in found])
    off = [np.hypot(np.median(fit.width) - np.median(best.width), fit.doubted_u) for fit in found]
    return replace(best, choice_u=float(np.sqrt(np.average(np.square(off), weights=share))))


def _started(mean: Profiles, prior: Prior, noise: float, known: tuple[GapFit, ...]):
    """The best fit to the seam's mean profile, from several widths and places and from what
    was found with other edges."""
    trials = []
    for fit in known:
        stations = np.column_stack([fit.middle, fit.width, fit.before, fit.after])
        common = np.clip(fit.common, prior.low, prior.high)
        trials.append(_solve(mean, np.median(stations, axis=0)[None, :], common, prior, noise, 8))
    for width in (0.04, 0.08, 0.15, 0.3, 0.55, 0.95):
        if width > 1.4 * mean.across[-1]:
            continue
        for middle in (0.0, -0.08, 0.08) if width < 0.2 else (0.0,):
            start = np.array([[middle, width, *_edge_levels(mean.light, mean.across)[0]]])
            trials.append(_solve(mean, start, prior.mean, prior, noise, 8))
    return min(trials, key=lambda trial: trial[2])


def fit_gaps(seen: Profiles, prior: Prior, start: np.ndarray) -> GapFit:
    """The same for gaps that differ from station to station, from a start (N, 2) of
    middles and widths that is known."""
    noise = max(0.0015, 1.4826 * float(np.median(np.abs(np.diff(seen.light, axis=1)[seen.use[:, 1:]]))))
    rows, columns = np.arange(len(seen.light)), seen.light.shape[1]
    first = np.argmax(seen.use, axis=1)
    last = columns - 1 - np.argmax(seen.use[:, ::-1], axis=1)
    levels = [
        np.median([seen.light[rows, np.clip(end + step * n, 0, columns - 1)] for n in range(5)], axis=0)
        for end, step in ((first, 1), (last, -1))
    ]
    local, common, cost = _solve(seen, np.column_stack([start, *levels]), prior.mean, prior, noise, _STEPS)
    return _judged(seen, local, common, cost, prior)


def _edge_levels(light: np.ndarray, across: np.ndarray) -> np.ndarray:
    """Levels (N, 2) at the two ends of the profiles."""
    tenth = max(3, len(across) // 8)
    return np.column_stack([np.median(light[:, :tenth], axis=1), np.median(light[:, -tenth:], axis=1)])


def _model(seen: Profiles, local: np.ndarray, common: np.ndarray):
    """Light (N, M), its slopes by the local (4, N, M) and by the common unknowns
    (K, N, M)."""
    factor, dark, near_w, near_l, far_w, far_l, wall_l, *starts = common
    near_s, far_s = starts or (0.0, 0.0)
    sigma = (seen.blur * np.exp(factor))[:, None]
    middle, width, before, after = (local[:, i : i + 1] for i in range(_LOCAL))
    first, second = middle - width / 2, middle + width / 2
    near, far = first - near_s, second + far_s
    places = (near - near_w, near, first, second - seen.wall[:, None], second, far, far + far_w)
    jumps = (near_l, -near_l, dark - before, wall_l - dark, after - wall_l, far_l, -far_l)
    steps, bells, by_sigma = [], [], 0.0
    for place, jump in zip(places, jumps, strict=True):
        z = (seen.across[None, :] - place) / sigma
        steps.append(ndtr(z))
        bell = np.exp(-0.5 * z * z) * (0.3989422804014327 / sigma)
        bells.append(-jump * bell)  # slope of the light by the place of the step
        by_sigma = by_sigma - jump * bell * z * sigma  # by the log of sigma
    light = before + sum(j * s for j, s in zip(jumps, steps, strict=True))
    left, right = sum(bells[:3]), sum(bells[3:])
    by_local = np.array([left + right, (right - left) / 2, 1 - steps[2], steps[4]])
    by_common = np.array(
        [
            by_sigma,
            steps[2] - steps[3],
            -bells[0],
            steps[0] - steps[1],
            bells[6],
            steps[5] - steps[6],
            steps[3] - steps[4],
            -bells[0] - bells[1],
            bells[5] + bells[6],
        ][: len(common)]
    )
    return light, by_local, by_common


def _equations(seen: Profiles, local, common, prior: Prior, noise: float):
    """Normal equations: cost, gradients and blocks of the curvature."""
    made, by_local, by_common = _model(seen, local, common)
    error = (seen.light - made) / noise
    size = np.abs(error)
    weight = seen.use / np.maximum(1, size / 4)  # lint and scratches count less (Huber)
    cost = float((seen.use * np.where(size < 4, error**2, 8 * size - 16)).sum())
    a = np.moveaxis(by_local, 0, 1) / noise  # (N, 4, M)
    b = np.moveaxis(by_common, 0, 1) / noise  # (N, K, M)
    wa = a * weight[:, None, :]
    h_ll = wa @ a.transpose(0, 2, 1)
    h_lc = wa @ b.transpose(0, 2, 1)
    h_cc = ((b * weight[:, None, :]) @ b.transpose(0, 2, 1)).sum(axis=0)
    g_l = (wa @ error[:, :, None])[..., 0]
    g_c = ((b * weight[:, None, :]) @ error[:, :, None])[..., 0].sum(axis=0)
    away = (prior.mean - common) / prior.u
    # What is known beforehand is known of the seam, however many profiles there are:
    # neighbouring samples share blur and grain, so they count as a fraction of themselves.
    cost = cost / _SHARED + float(away @ away)
    return (
        cost,
        g_l / _SHARED,
        g_c / _SHARED + away / prior.u,
        h_ll / _SHARED,
        h_lc / _SHARED,
        h_cc / _SHARED + np.diag(1 / prior.u**2),
    )


_SHARED = 4.0


def _solve(seen: Profiles, local, common, prior: Prior, noise: float, steps: int):
    damping = 1e-2
    now = _equations(seen, local, common, prior, noise)
    for _ in range(steps):
        cost, g_l, g_c, h_ll, h_lc, h_cc = now
        damp_l = h_ll + (damping * h_ll + 1e-9 * np.eye(_LOCAL)) * np.eye(_LOCAL)
        solved = np.linalg.solve(damp_l, np.concatenate([h_lc, g_l[..., None]], axis=2))
        pull, own = solved[..., :-1], solved[..., -1]
        reduced = h_cc + damping * np.diag(np.diag(h_cc)) - (h_lc.transpose(0, 2, 1) @ pull).sum(axis=0)
        rise = g_c - (h_lc.transpose(0, 2, 1) @ own[..., None]).sum(axis=0)[:, 0]
        # What is pushed against its bound stays there: the others move as if it were known.
        held = (common <= prior.low) & (rise < 0) | (common >= prior.high) & (rise > 0)
        reduced[held, :] = reduced[:, held] = 0.0
        reduced[held, held] = 1.0
        move_c = np.linalg.solve(reduced, np.where(held, 0.0, rise))
        move_l = own - pull @ move_c
        move_l[:, :2] = np.clip(move_l[:, :2], -0.1, 0.1)
        trial_l = local + move_l
        trial_l[:, 1] = np.maximum(trial_l[:, 1], _LEAST_WIDTH)
        trial_c = np.clip(common + move_c, prior.low, prior.high)
        then = _equations(seen, trial_l, trial_c, prior, noise)
        if then[0] < cost:
            gain = cost - then[0]
            local, common, now = trial_l, trial_c, then
            damping = max(damping / 5, 1e-7)
            if gain < 1e-5 * cost + 1e-3:
                break
        else:
            damping *= 6
            if damping > 1e6:
                break
    return local, common, now[0]


def _judged(seen: Profiles, local, common, cost: float, prior: Prior) -> GapFit:
    made, _, _ = _model(seen, local, common)
    error = seen.light - made
    misfit = np.sqrt((error**2).mean(axis=1, where=seen.use))
    noise = max(0.001, 1.4826 * float(np.median(np.abs(error[seen.use]))))
    _, _, _, h_ll, h_lc, h_cc = _equations(seen, local, common, prior, noise)
    inverse = np.linalg.inv(h_ll + 1e-9 * np.eye(_LOCAL))
    pull = inverse @ h_lc
    reduced = h_cc - (h_lc.transpose(0, 2, 1) @ pull).sum(axis=0)
    return GapFit(
        middle=local[:, 0],
        width=local[:, 1],
        before=local[:, 2],
        after=local[:, 3],
        misfit=misfit,
        own_u=np.sqrt(inverse[:, 1, 1]),
        own_cov=inverse[:, :2, :2],
        common=common,
        common_cov=np.linalg.inv(reduced),
        common_slope=-pull[:, 1, :],
        middle_slope=-pull[:, 0, :],
        prior=prior,
        cost=cost,
    )
