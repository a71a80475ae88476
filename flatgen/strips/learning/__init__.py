"""What strips teach: the model, and its use for a part."""
