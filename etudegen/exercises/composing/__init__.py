"""How an etude is made: a form, its harmony, its rhythm, and then notes drawn under all of them, all from one seed."""
