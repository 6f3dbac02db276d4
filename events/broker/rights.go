package broker

import (
	"github.com/nats-io/nats-server/v2/server"

	"github.com/pottrail/pottrail/events"
)

// answering is what the connections that answer may do: hear requests, and send to inboxes, those of accounts among them, which the
// server calls _R_.
func answering() *server.Permissions {
	before := Sender{Role: "*", Name: "*"}.prefix()
	return &server.Permissions{
		Publish: &server.SubjectPermission{Allow: []string{"_INBOX.>", "_INSIDE.>", "_R_.>"}},
		Subscribe: &server.SubjectPermission{Allow: []string{"_INSIDE.>", events.SubjectRecords, events.SubjectAsks,
			before + events.SubjectRecords, before + events.SubjectAsks, "$SRV.>"}},
	}
}

// outside is what a client outside the process may do: record events, ask, and read the streams. It cannot put
// anything into a stream, change or delete one, or answer in our place.
func outside(domain string) *server.Permissions {
	publish := []string{events.SubjectRecords, events.SubjectAsks, "$SRV.>", "$JS.ACK.>", "$JS.FC.>"}
	prefixes := []string{"$JS.API"}
	if domain != "" {
		prefixes = append(prefixes, "$JS."+domain+".API")
	}
	for _, prefix := range prefixes {
		publish = append(publish, prefix+".INFO", prefix+".STREAM.NAMES", prefix+".STREAM.LIST")
		for _, stream := range []string{StreamTrail, StreamFlags, StreamCheckpoints} {
			publish = append(publish,
				prefix+".STREAM.INFO."+stream,
				prefix+".STREAM.MSG.GET."+stream,
				prefix+".DIRECT.GET."+stream, prefix+".DIRECT.GET."+stream+".>",
				prefix+".CONSUMER.CREATE."+stream, prefix+".CONSUMER.CREATE."+stream+".>",
				prefix+".CONSUMER.DURABLE.CREATE."+stream+".*",
				prefix+".CONSUMER.INFO."+stream+".*", prefix+".CONSUMER.DELETE."+stream+".*",
				prefix+".CONSUMER.NAMES."+stream, prefix+".CONSUMER.LIST."+stream,
				prefix+".CONSUMER.MSG.NEXT."+stream+".*")
		}
	}
	return &server.Permissions{
		Publish:   &server.SubjectPermission{Allow: publish},
		Subscribe: &server.SubjectPermission{Allow: []string{"_INBOX.>", events.SubjectEvents, events.SubjectFlags, events.SubjectCheckpoints}},
	}
}
