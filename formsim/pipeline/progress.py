"""One line on where a run is."""

from __future__ import annotations

from formsim.pipeline.making import Progress
from formsim.results.thickness import thickness_profile


def progress_text(progress: Progress) -> str:
    """Stage, stroke, step, iterations, load, minimum thickness and time left."""
    row = progress.increment
    thinnest = float(thickness_profile(progress.body, progress.state).thickness.min())
    share = progress.fraction
    way = f"stroke {row.stroke:7.3f} mm" if row.stroke >= 0.0 else "tools closing    "
    left = progress.seconds * (1.0 - share) / share if share > 0.02 else None
    return (
        f"{progress.stage} ({progress.number}/{progress.count})  {100 * progress.fraction:3.0f} %"
        f"  {way}  step {progress.step}  iterations {row.iterations}"
        f"  {_load_text(progress)}  min t {thinnest:.4f} mm"
        + ("" if left is None else f"  about {left:.0f} s left")
    )


def _load_text(progress: Progress) -> str:
    """Largest tool force, or the pressure where only a fluid acts."""
    row, tools = progress.increment, progress.tools
    if not tools and progress.fluids:
        return f"fluid {row.positions[0]:.3f} MPa"
    force, tool = max(zip(abs(row.forces), tools, strict=False), default=(0.0, "no tool"))
    return f"{tool} {1e-3 * force:.2f} kN"
