"""The board of the window: a view that gets positions and emits moves."""
