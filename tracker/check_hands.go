package tracker

// hands judges what those who hold a pot did with it: collected late, kept too long, brought to the wrong place.
func (k *checking) hands() {}
