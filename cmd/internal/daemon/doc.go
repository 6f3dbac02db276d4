// Package daemon is the running program: [Run] wires ledger, people, printers, broker, pages and socket over one data
// folder, and ends them in order.
//
// What happens inside:
//
//   - Events from every way in wait in one queue. One goroutine hands what is waiting to the ledger as one batch, and
//     the next batch forms while that one is on its way to the disk; there is no artificial delay. Verdicts go back
//     after the commit.
//   - One timer stands at the earliest instant at which time alone could change a flag. Nothing polls.
//   - A label for a printer is drawn, put on disk, recorded as printed, and only then sent. Which labels were scanned since is
//     heard of after the verdicts have gone back, and looked up again at each start.
//   - [Service] has one function a question; HTTP, NATS and the commands all call it.
//
// It reads no signals and never ends the process, so that tests run it whole, on port 0. Its log holds no identifier of
// a patient.
package daemon
