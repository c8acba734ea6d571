"""Reports: records travel, ``build`` puts them in order, ``write`` writes them."""
