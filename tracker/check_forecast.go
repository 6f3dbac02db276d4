package tracker

// forecasts looks ahead: windows that will be missed while there is still a departure that saves them.
func (k *checking) forecasts() {}
