"""Real files by other programs, with what each rule must say about them."""
