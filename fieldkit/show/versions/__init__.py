"""Two versions of a show, held side by side and made one, by things and fields."""
