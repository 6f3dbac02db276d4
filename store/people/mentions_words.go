package people

import (
	"strings"
	"sync"
)

// ordinaryWords are family names that a text about tissue, its way and its clock uses as ordinary words: colours, looks,
// sizes, things of the room, days and months, directions, words of telephone calls. Common practice, no source. A name that is
// also a trade nobody writes about here (Baker, Fisher, Walker) is not among them: it is a name.
var ordinaryWords = sync.OnceValue(func() map[string]bool {
	out := map[string]bool{}
	for word := range strings.FieldsSeq(`
	adult after again all apple april ash august back bag ball band bank banks bath beach bean bear beard bell bench best bird bishop black blade
	bland block bloom blue blunt bolt bond bone book booth born bow bowl box brain branch brand brave bread bridge bright brook brown brush buck
	bull burn bush busy butcher buyer call can care carpenter case cash castle chain chair chance change chapel check child church clay clean
	clear clerk clinic close cloud coal coarse coat cold cole cook cool copper core corn cotton count court cover crisp cross crown cutter dark
	daughter dawn day days deal dear deep doctor done door down driver dry duck early east easter english even ever fair fall false farmer fast
	feather feet field fine first fish fit fixed flag flat flood flower foot ford forest fox frame free french fresh friday friend frost full
	fuller gain garden gardener gates gentle given glass gold good goods gore grain grand grave gray great green grey grove had half hall hand
	handy hard hardy hart haste hay head heart heath heavy height hill hole holiday home hood hook hope horn hour hours house hunt ice ill inch
	iron join joint judge july june just keen keep key kind king kitchen knife knot lab label lake lamb land lane large last late law lay leaf
	lean leather left lemon lend light lime line list little load lock long lord loud love low lower luck lump mail main major man many march
	mark marsh mass mast master may mead mean mild mile miles mill mills minor mist monday moody moon moor more morning moss mount mouth much
	must nail near neat neck need needle needles new night noble noon north note nurse oak off old olive only orchard over own page pain paper
	park parting pass past patient peace pear pearl peel penny pepper piece pike pink place plain plan plant plumb plumber point pool poor pope
	porter post pot power price pride priest prime print prior proper proud puddle purple quick quill rain read ready ream reason red reed rest
	rice rich ridge right ring rise river road rock rolls room rope rose rough round row rule rush sack sail salt sample sand saturday savage
	scales school sea seal seaman self senior service shaft sharp sheep shepherd sheriff ship short shot shrimp sick silk silver singer skin
	slack slide slow small smart smooth snow soft solid son spark speed spring square staff stain stamp stark steel step stock stone store storm
	stout strange stream street strong such sugar summer sun sunday swan sweet swift table tall tart tender test than that thick thin thorn
	thursday tide till timber tissue told toll took top town tree true tube tuesday turn twin two under upper vale van vial vine walk wall ward
	warm waste watch water waters way wednesday week weeks well wells west wet wharf wheat wheel white whole wide wild will wine wing winter
	wise with wolf wood woods wool word work workman worth wright yard year yellow young`) {
		out[word] = true
	}
	return out
})
