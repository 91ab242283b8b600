"""The Qt window: views of what the library computes, and the only place that imports Qt."""

from trainer.ui.plain_imports import spare_sources

spare_sources()
