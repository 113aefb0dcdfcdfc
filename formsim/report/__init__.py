"""What a person sees: figures, the rendered picture, tables as text."""
