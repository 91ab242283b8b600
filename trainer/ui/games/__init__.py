"""The place called Games: whole games held against the open repertoire."""
