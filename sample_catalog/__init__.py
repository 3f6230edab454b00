"""The invented workshop of Harrowmere Flying Museum, as the files that a workshop would keep."""
