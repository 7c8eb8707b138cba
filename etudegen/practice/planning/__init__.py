"""How a session is laid out: what it is made of, how long each part is, and where the rests are."""
