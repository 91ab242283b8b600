"""The Qt window: views of what the library computes, and the only place that imports Qt."""
