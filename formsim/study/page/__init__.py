"""The page of a study: data, figures, and one HTML file of them."""
