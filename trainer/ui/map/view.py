"""Which part of the plan is on the screen, and how large."""

from __future__ import annotations

from dataclasses import dataclass, replace


@dataclass(frozen=True)
class View:
    """`zoom` is logical pixels to a unit of the plan, (`left`, `top`) what is in the corner.

    From afar rows come close together; columns do not come closer than `least_across` pixels to
    a unit, so that a plan of many rows still fills the screen.
    """

    zoom: float = 1.0
    left: float = 0.0
    top: float = 0.0
    least_across: float = 0.0

    @property
    def across(self) -> float:
        """Pixels to a unit of the plan from left to right."""
        return max(self.zoom, self.least_across)

    def to_screen(self, x: float, y: float) -> tuple[float, float]:
        """Logical pixels of a point of the plan."""
        return (x - self.left) * self.across, (y - self.top) * self.zoom

    def to_plan(self, x: float, y: float) -> tuple[float, float]:
        """The point of the plan under logical pixels."""
        return self.left + x / self.across, self.top + y / self.zoom

    def moved(self, x: float, y: float) -> View:
        """The plan dragged by so many logical pixels."""
        return replace(self, left=self.left - x / self.across, top=self.top - y / self.zoom)

    def zoomed(self, factor: float, x: float, y: float, least: float, most: float) -> View:
        """Enlarged by `factor` within bounds; what is under the pixels (x, y) stays there."""
        zoom = min(max(self.zoom * factor, least), most)
        return replace(self, zoom=zoom).holding(self.to_plan(x, y), x, y)

    def holding(self, point: tuple[float, float], x: float, y: float) -> View:
        """Moved so that a point of the plan stands at the pixels (x, y)."""
        return replace(self, left=point[0] - x / self.across, top=point[1] - y / self.zoom)


def fitted(
    bounds: tuple[float, float, float, float],
    width: float,
    height: float,
    most: float,
    widest: float = 0.0,
) -> View:
    """The view that shows all of `bounds` (left, top, width, height), not larger than `most`.

    `widest` is up to how many pixels a unit columns are kept apart when rows are closer.
    """
    left, top, plan_width, plan_height = bounds
    fit_across = width / max(plan_width, 1e-9)
    zoom = min(fit_across, height / max(plan_height, 1e-9), most)
    view = View(zoom, least_across=min(widest, fit_across))
    middle = (left + plan_width / 2, top + plan_height / 2)
    return view.holding(middle, width / 2, height / 2)
