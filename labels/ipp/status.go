package ipp

import "fmt"

// Status is how an answer begins (RFC 8011, appendix B).
type Status uint16

// The statuses that a sender tells apart.
const (
	OK                         Status = 0x0000
	Timeout                    Status = 0x0405
	NotFound                   Status = 0x0406
	Gone                       Status = 0x0407
	DocumentFormatNotSupported Status = 0x040A
	ValuesNotSupported         Status = 0x040B
	InternalError              Status = 0x0500
	OperationNotSupported      Status = 0x0501
	ServiceUnavailable         Status = 0x0502
	VersionNotSupported        Status = 0x0503
	DeviceError                Status = 0x0504
	TemporaryError             Status = 0x0505
	NotAcceptingJobs           Status = 0x0506
	Busy                       Status = 0x0507
	JobCanceled                Status = 0x0508
	OneDocumentOnly            Status = 0x0509
	Deactivated                Status = 0x050A
)

// statusWords says each status as a person would who stands at the printer.
var statusWords = map[Status]string{
	OK:                         "it is done",
	0x0001:                     "it is done, but some settings were not as asked",
	0x0002:                     "it is done, but some settings were against each other",
	0x0400:                     "the printer does not understand the request",
	0x0401:                     "the printer forbids it",
	0x0402:                     "the printer wants a sign-in",
	0x0403:                     "the printer does not allow it for this user",
	0x0404:                     "the printer cannot do it as it stands",
	Timeout:                    "the printer waited too long for the rest of the request",
	NotFound:                   "the printer does not know what was asked for",
	Gone:                       "the printer no longer has what was asked for",
	0x0408:                     "the label is too large for the printer",
	0x0409:                     "a value in the request is too long for the printer",
	DocumentFormatNotSupported: "the printer does not take this format",
	ValuesNotSupported:         "the printer does not take this label size, format or setting",
	0x040C:                     "the printer does not take this kind of address",
	0x040D:                     "the printer does not take text in utf-8",
	0x040E:                     "settings of the label are against each other",
	0x040F:                     "the printer does not take compressed labels",
	0x0410:                     "the printer could not unpack the label",
	0x0411:                     "the printer could not read the label",
	0x0412:                     "the printer could not fetch the label",
	InternalError:              "something went wrong inside the printer",
	OperationNotSupported:      "the printer does not know this operation",
	ServiceUnavailable:         "the printer is not ready",
	VersionNotSupported:        "the printer speaks another version of the protocol",
	DeviceError:                "the printer has a fault, such as a jam",
	TemporaryError:             "the printer has a passing fault",
	NotAcceptingJobs:           "the printer takes no jobs at present",
	Busy:                       "the printer is busy",
	JobCanceled:                "the job was cancelled at the printer",
	OneDocumentOnly:            "the printer takes one document a job",
	Deactivated:                "the printer is switched off by whoever looks after it",
}

// Successful reports whether what was asked for was done.
func (s Status) Successful() bool { return s < 0x0100 }

// String says the status in words, with its number for whoever looks after the printer.
func (s Status) String() string {
	words, known := statusWords[s]
	switch {
	case known:
	case s.Successful():
		words = statusWords[OK]
	case s >= 0x0400 && s < 0x0500:
		words = "the printer refuses the request"
	case s >= 0x0500 && s < 0x0600:
		words = "the printer cannot do it"
	default:
		words = "the printer's answer has no meaning known here"
	}
	return fmt.Sprintf("%s (0x%04X)", words, uint16(s))
}
