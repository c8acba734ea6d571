"""The drawing tools of the invented studio: canvas, letters, noise, export."""
