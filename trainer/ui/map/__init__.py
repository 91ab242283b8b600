"""The place called Map: the repertoire drawn as a railway plan."""
