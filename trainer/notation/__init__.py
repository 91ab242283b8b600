"""Fast reading of PGN text and SAN, held to python-chess by differential tests."""
