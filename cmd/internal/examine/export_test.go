package examine

// RunWithin is [Run] with another patience.
var RunWithin = run
