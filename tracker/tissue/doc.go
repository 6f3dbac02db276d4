// Package tissue is the physics of small pieces: how much a piece out of a needle may take up, how much fixative it wants,
// whether it floats, how deep a fixative gets in a time, and what a pot of it counts as on a journey.
//
// It holds figures of matter and of transport rules, each with its source, and never a clinic's limits: those stand in the
// protocol. What is not known gives "not known", never zero. It judges no case, imports nothing of this module, and touches
// no clock, disk or network.
package tissue
