"""Which part of the plan is on the screen, and how large."""

from __future__ import annotations

from dataclasses import dataclass, replace


@dataclass(frozen=True)
class View:
    """`zoom` is logical pixels to a unit of the plan, (`left`, `top`) what is in the corner."""

    zoom: float = 1.0
    left: float = 0.0
    top: float = 0.0

    def to_screen(self, x: float, y: float) -> tuple[float, float]:
        """Logical pixels of a point of the plan."""
        return (x - self.left) * self.zoom, (y - self.top) * self.zoom

    def to_plan(self, x: float, y: float) -> tuple[float, float]:
        """The point of the plan under logical pixels."""
        return self.left + x / self.zoom, self.top + y / self.zoom

    def moved(self, x: float, y: float) -> View:
        """The plan dragged by so many logical pixels."""
        return replace(self, left=self.left - x / self.zoom, top=self.top - y / self.zoom)

    def zoomed(self, factor: float, x: float, y: float, least: float, most: float) -> View:
        """Enlarged by `factor` within bounds; what is under the pixels (x, y) stays there."""
        zoom = min(max(self.zoom * factor, least), most)
        left, top = self.to_plan(x, y)
        return View(zoom, left - x / zoom, top - y / zoom)

    def holding(self, point: tuple[float, float], x: float, y: float) -> View:
        """Moved so that a point of the plan stands at the pixels (x, y)."""
        return replace(self, left=point[0] - x / self.zoom, top=point[1] - y / self.zoom)


def fitted(
    bounds: tuple[float, float, float, float], width: float, height: float, most: float
) -> View:
    """The view that shows all of `bounds` (left, top, width, height), not larger than `most`."""
    left, top, across, down = bounds
    zoom = min(width / max(across, 1e-9), height / max(down, 1e-9), most)
    return View(zoom, left - (width / zoom - across) / 2, top - (height / zoom - down) / 2)
