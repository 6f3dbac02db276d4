package tracker

// Kind is [KindCaseOpened].
func (*CaseOpened) Kind() Kind { return KindCaseOpened }

// Kind is [KindCaseAmended].
func (*CaseAmended) Kind() Kind { return KindCaseAmended }

// Kind is [KindPatientChecked].
func (*PatientChecked) Kind() Kind { return KindPatientChecked }

// Kind is [KindLabelPrinted].
func (*LabelPrinted) Kind() Kind { return KindLabelPrinted }

// Kind is [KindLabelSpoiled].
func (*LabelSpoiled) Kind() Kind { return KindLabelSpoiled }

// Kind is [KindLabelBound].
func (*LabelBound) Kind() Kind { return KindLabelBound }

// Kind is [KindPieceTaken].
func (*PieceTaken) Kind() Kind { return KindPieceTaken }

// Kind is [KindPiecePotted].
func (*PiecePotted) Kind() Kind { return KindPiecePotted }

// Kind is [KindPotFilled].
func (*PotFilled) Kind() Kind { return KindPotFilled }

// Kind is [KindSpecimenImaged].
func (*SpecimenImaged) Kind() Kind { return KindSpecimenImaged }

// Kind is [KindAdequacyChecked].
func (*AdequacyChecked) Kind() Kind { return KindAdequacyChecked }

// Kind is [KindMarkerPlaced].
func (*MarkerPlaced) Kind() Kind { return KindMarkerPlaced }

// Kind is [KindPotSealed].
func (*PotSealed) Kind() Kind { return KindPotSealed }

// Kind is [KindProcedureEnded].
func (*ProcedureEnded) Kind() Kind { return KindProcedureEnded }

// Kind is [KindRoomCleared].
func (*RoomCleared) Kind() Kind { return KindRoomCleared }

// Kind is [KindPotRelabelled].
func (*PotRelabelled) Kind() Kind { return KindPotRelabelled }

// Kind is [KindBagPacked].
func (*BagPacked) Kind() Kind { return KindBagPacked }

// Kind is [KindBagOpened].
func (*BagOpened) Kind() Kind { return KindBagOpened }

// Kind is [KindCustodyTaken].
func (*CustodyTaken) Kind() Kind { return KindCustodyTaken }

// Kind is [KindPotLost].
func (*PotLost) Kind() Kind { return KindPotLost }

// Kind is [KindPotFound].
func (*PotFound) Kind() Kind { return KindPotFound }

// Kind is [KindPotDiscarded].
func (*PotDiscarded) Kind() Kind { return KindPotDiscarded }

// Kind is [KindLabAccessioned].
func (*LabAccessioned) Kind() Kind { return KindLabAccessioned }

// Kind is [KindLabQueried].
func (*LabQueried) Kind() Kind { return KindLabQueried }

// Kind is [KindLabRefused].
func (*LabRefused) Kind() Kind { return KindLabRefused }

// Kind is [KindLabOpened].
func (*LabOpened) Kind() Kind { return KindLabOpened }

// Kind is [KindLabLoaded].
func (*LabLoaded) Kind() Kind { return KindLabLoaded }

// Kind is [KindLabReferred].
func (*LabReferred) Kind() Kind { return KindLabReferred }

// Kind is [KindLabReturned].
func (*LabReturned) Kind() Kind { return KindLabReturned }

// Kind is [KindStudiesAdded].
func (*StudiesAdded) Kind() Kind { return KindStudiesAdded }

// Kind is [KindResultIssued].
func (*ResultIssued) Kind() Kind { return KindResultIssued }

// Kind is [KindResultSeen].
func (*ResultSeen) Kind() Kind { return KindResultSeen }

// Kind is [KindCaseDiscussed].
func (*CaseDiscussed) Kind() Kind { return KindCaseDiscussed }

// Kind is [KindPatientTold].
func (*PatientTold) Kind() Kind { return KindPatientTold }

// Kind is [KindCaseClosed].
func (*CaseClosed) Kind() Kind { return KindCaseClosed }

// Kind is [KindCaseReopened].
func (*CaseReopened) Kind() Kind { return KindCaseReopened }

// Kind is [KindClockPaused].
func (*ClockPaused) Kind() Kind { return KindClockPaused }

// Kind is [KindClockResumed].
func (*ClockResumed) Kind() Kind { return KindClockResumed }

// Kind is [KindChaseLogged].
func (*ChaseLogged) Kind() Kind { return KindChaseLogged }

// Kind is [KindFlagAnswered].
func (*FlagAnswered) Kind() Kind { return KindFlagAnswered }

// Kind is [KindNoteAdded].
func (*NoteAdded) Kind() Kind { return KindNoteAdded }

// Kind is [KindEventStruck].
func (*EventStruck) Kind() Kind { return KindEventStruck }

// Kind is [KindProtocolAdopted].
func (*ProtocolAdopted) Kind() Kind { return KindProtocolAdopted }
