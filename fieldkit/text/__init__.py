"""What several parts need of text: TOML read and edited as text, files written whole, widths, words for counts."""
