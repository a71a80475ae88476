"""Pictures of the stages of bending: the brake cut through, the metal, what moves."""
