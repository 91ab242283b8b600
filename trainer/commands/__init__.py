"""The commands, each with its options and the function that runs it."""
