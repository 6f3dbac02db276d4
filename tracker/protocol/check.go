package protocol

func check(p *Protocol, o *outline) []*Error { return nil }
