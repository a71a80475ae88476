"""The formed part as a solid; names back from its flat by geometry; STEP and views."""
