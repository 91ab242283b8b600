"""The place called Move orders: where orders cross, where one might slip in, and look-alikes."""
