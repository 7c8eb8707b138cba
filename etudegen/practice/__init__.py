"""Who practises, with what aim, for how long: profiles, plans, sessions, books, the journal. It never draws notes."""
