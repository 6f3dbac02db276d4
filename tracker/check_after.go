package tracker

// afterwards judges what becomes of an answer: taken on the same day, discussed, acted on, closed.
func (k *checking) afterwards() {}
