"""Short original music made by `make.py`, and three imaginary loudspeakers to play it through."""
