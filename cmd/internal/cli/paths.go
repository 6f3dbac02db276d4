package cli

import (
	"errors"

	"github.com/pottrail/pottrail/cmd/internal/web"
)

// What commands ask for over the socket only.
const (
	pathOpen     = web.PathOpen
	pathLabels   = web.PathLabels
	pathReserve  = web.PathReserve
	pathBind     = web.PathBind
	pathRefused  = web.PathRefused
	pathProtocol = web.PathProtocol
	pathPrint    = web.PathPrint
	pathPrinters = web.PathPrinters
	pathTest     = web.PathTest
	pathJobs     = web.PathJobs
	pathSettle   = web.PathSettle
	pathCallOff  = web.PathCallOff
	pathFind     = web.PathFind
	pathForget   = web.PathForget
	pathReads    = web.PathReads
	pathRotate   = web.PathRotate

	pathCheckpoint = web.PathCheckpoint

	pathCertificates = web.PathCertificates

	pathStaff         = web.PathStaff
	pathStaffAdd      = web.PathStaffAdd
	pathStaffPIN      = web.PathStaffPIN
	pathStaffRemove   = web.PathStaffRemove
	pathStaffUnlock   = web.PathStaffUnlock
	pathSetUpLink     = web.PathSetUpLink
	pathStations      = web.PathStations
	pathStationEnrol  = web.PathStationEnrol
	pathStationRemove = web.PathStationRemove
	pathSessions      = web.PathSessions
	pathSessionEnd    = web.PathSessionEnd
	pathDoubts        = web.PathDoubts

	pathClients      = web.PathClients
	pathAddClient    = web.PathAddClient
	pathRemoveClient = web.PathRemoveClient
)

// isUnreadable reports whether the daemon found the request itself wrong.
func isUnreadable(err error) bool { return errors.As(err, new(*inputError)) }
