"""Simulated players with a hidden memory: the yard-stick by which planning is measured."""
