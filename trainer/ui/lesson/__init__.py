"""The place called Lesson: structures, breaks, moments, and something to hand out."""
