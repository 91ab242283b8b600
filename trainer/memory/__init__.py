"""The memory model, grading, and the planner that decides what is asked today."""
