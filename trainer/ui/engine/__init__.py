"""The engine in the window: asked in a thread of its own, its answers in words."""
