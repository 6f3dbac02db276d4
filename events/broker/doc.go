// Package broker carries events, flags and questions over NATS.
//
// [Start] runs a NATS server inside the process, with its streams in one folder and no port unless one is asked for.
// [Publisher] puts what the ledger has recorded into the streams TRAIL, FLAGS and CHECKPOINTS; [ServeRecord] takes events in;
// [ServeQuestions] answers as the micro service "trail".
//
// JetStream is a carrier here and never the truth: it acknowledges before it is on disk, so the publisher asks the
// stream itself what its last message is and goes on from there, and a stream, or the whole folder, may be deleted at
// any time: what is within the stream's limits is published again, in order and without gaps.
//
// Programs and devices outside each have an [Account] of the server, with a key, a role and the clinics it is for
// ([Server.SetAccounts]); [Doors] hears each through a door of its own.
//
// The package never decides about an event, never holds up recording, and never imports the ledger: it declares the
// small interfaces that it needs ([Source], [RecordHandler], [AskHandler]).
package broker
