"""The order of bending: which bend first, which side held, on which set-up; found exactly, or proven impossible."""
