"""What is kept on disk: progress, settings, atomic files, locations."""
