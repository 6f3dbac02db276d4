package forecast

// Walks are the hand-overs within a house that take no time, worked out from places and rounds: from a place of the clinic
// that no round leaves to every place of it that one does, since a pot in a room is given to the hatch or the fridge that
// porters collect from; and among the places of laboratories that no round comes to, or if rounds come to one alone, since
// reception and processor are one house. Where rounds come to several places of laboratories nothing is taken for granted.
func Walks(places []Place, rounds []Round) []Link {
	leaves, comes := map[string]bool{}, map[string]bool{}
	for _, r := range rounds {
		leaves[r.From], comes[r.To] = true, true
	}
	doors := 0
	for _, p := range places {
		if p.Kind == Laboratory && comes[p.Key] {
			doors++
		}
	}
	var links []Link
	for _, from := range places {
		for _, to := range places {
			switch {
			case from.Key == to.Key || from.Kind != to.Kind:
			case from.Kind == Clinic && !leaves[from.Key] && leaves[to.Key],
				from.Kind == Laboratory && doors <= 1:
				links = append(links, Link{From: from.Key, To: to.Key})
			}
		}
	}
	return links
}
