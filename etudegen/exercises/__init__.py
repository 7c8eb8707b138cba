"""The kinds of exercise: each module holds its parameters and a pure function that makes a study of them."""
