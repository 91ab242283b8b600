"""The drill: questions on the board, answered by mouse or keyboard."""
