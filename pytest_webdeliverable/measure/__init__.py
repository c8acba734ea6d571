"""The measuring side: files in, plain facts out. The only side that imports PIL."""
