"""What the commands print: one object as JSON, or text for 80 columns. No arithmetic of their own."""
