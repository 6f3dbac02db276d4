package demo

// Given names are of many peoples; family names are made up of parts, so that no pair is anyone's.

func givenNames() []string {
	return []string{"Amina", "Bronagh", "Chiara", "Dorota", "Eilidh", "Fumiko", "Gwenllian", "Hanneke", "Ifeoma", "Jelena", "Khadija", "Ludmila", "Mairead",
		"Nobuhle", "Oddny", "Parveen", "Quilla", "Ragnhild", "Siobhán", "Thandiwe", "Ursula", "Vaishnavi", "Wanjiru", "Xiulan", "Yevheniia", "Zsófia",
		"Åse", "Béatrice", "Čarna", "Dünya", "Élodie", "Françoise", "Güler", "Hjördís", "İpek", "Jadwiga", "Kateřina", "Łucja", "Małgorzata", "Nokuthula",
		"Oyinkan", "Philippa", "Rósa", "Şebnem", "Tālivaldis", "Umaru", "Vicenta", "Wilhelmina", "Xanthe", "Yaa", "Żaneta", "Anneliese", "Bartholomew",
		"Cormac", "Desmond", "Emeka", "Farouk", "Gruffydd", "Haruki", "Ismail", "Joaquín", "Kwabena", "Leopold", "Mustafa", "Njabulo", "Olumide", "Padraig",
		"Ευτυχία", "Αργυρώ", "Θεόφιλος", "Людмила", "Ярослава", "Святослав", "Anne-Marie", "Mary Ellen", "D'Arcy"}
}

// familyParts are the beginnings and ends of family names that go together.
func familyParts() [][2][]string {
	return [][2][]string{
		{{"Thorn", "Brack", "Hollow", "Wether", "Quern", "Stavel", "Ambler", "Corvin", "Pender", "Tresk"}, {"mere", "shaw", "gill", "thwaite", "stow", "bury", "leigh"}},
		{{"Brez", "Kovar", "Dubrav", "Zelin", "Horod", "Wojn"}, {"ovska", "inski", "enko", "icová", "iak", "ović"}},
		{{"Ade", "Olu", "Chuk", "Nwa", "Oba"}, {"bankole", "wumi", "dinma", "kaego", "seyin"}},
		{{"Ráth", "Mac Giolla", "Ó Donn", "Mac Aodh"}, {"bhraith", "chú", "agáin", "úir"}},
		{{"Sval", "Fjeld", "Hraun", "Strøm", "Björk"}, {"bakken", "dóttir", "sø", "löv", "gård"}},
		{{"Chandra", "Vaidy", "Srini", "Mukho"}, {"wadkar", "lingam", "patra", "mohan"}},
		{{"Yılma", "Kaya", "Öz"}, {"türkoğlu", "demirci", "sönmez"}},
		{{"Παπα", "Καρα", "Χατζη"}, {"λουκάκος", "νικόπουλος", "μανώλη"}},
		{{"Гори", "Вишне", "Тихо"}, {"веленко", "градська", "славець"}},
		{{"Monte", "Valle", "Quinta"}, {"serrão", "verde-Ruiz", "negrín"}},
	}
}
