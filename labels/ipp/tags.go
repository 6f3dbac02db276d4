package ipp

import "fmt"

// Tag says of what kind a value is, or that a group begins (RFC 8010, section 3.5).
type Tag byte

// Tags that part a message.
const (
	OperationGroup   Tag = 0x01 // about the request or the answer itself
	JobGroup         Tag = 0x02 // one job
	endOfAttributes  Tag = 0x03
	PrinterGroup     Tag = 0x04 // one printer
	UnsupportedGroup Tag = 0x05 // what the printer did not take over
)

// Tags of values.
const (
	TagInteger          Tag = 0x21
	TagBoolean          Tag = 0x22
	TagEnum             Tag = 0x23
	TagOctetString      Tag = 0x30
	TagDateTime         Tag = 0x31
	TagResolution       Tag = 0x32
	TagRange            Tag = 0x33
	TagCollection       Tag = 0x34
	TagTextWithLanguage Tag = 0x35
	TagNameWithLanguage Tag = 0x36
	endCollection       Tag = 0x37
	TagText             Tag = 0x41
	TagName             Tag = 0x42
	TagKeyword          Tag = 0x44
	TagURI              Tag = 0x45
	TagURIScheme        Tag = 0x46
	TagCharset          Tag = 0x47
	TagNaturalLanguage  Tag = 0x48
	TagMIMEMediaType    Tag = 0x49
	memberName          Tag = 0x4A
)

// group reports whether a group of attributes begins with the tag; those above [UnsupportedGroup] are carried unread.
func (t Tag) group() bool { return t >= 0x01 && t <= 0x0F && t != endOfAttributes }

// outOfBand reports whether the tag itself is the value.
func (t Tag) outOfBand() bool { return t >= 0x10 && t <= 0x1F }

// String gives the tag as RFC 8010 writes it.
func (t Tag) String() string { return fmt.Sprintf("0x%02X", byte(t)) }

// Operation is what a request asks for (RFC 8011, section 5.4.15).
type Operation uint16

// The operations that printing a label needs.
const (
	PrintJob             Operation = 0x0002
	CancelJob            Operation = 0x0008
	GetJobAttributes     Operation = 0x0009
	GetJobs              Operation = 0x000A
	GetPrinterAttributes Operation = 0x000B
)

// String gives the operation's name in RFC 8011, or its number.
func (o Operation) String() string {
	switch o {
	case PrintJob:
		return "Print-Job"
	case CancelJob:
		return "Cancel-Job"
	case GetJobAttributes:
		return "Get-Job-Attributes"
	case GetJobs:
		return "Get-Jobs"
	case GetPrinterAttributes:
		return "Get-Printer-Attributes"
	}
	return fmt.Sprintf("operation 0x%04X", uint16(o))
}
