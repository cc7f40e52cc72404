package redact

import "strings"

func set(words string) map[string]bool {
	m := map[string]bool{}
	for _, w := range strings.Fields(words) {
		m[w] = true
	}
	return m
}

// The words are folded: lower case, no accents.
var (
	// codeNouns stand for a code of digits.
	codeNouns = set(`code codes cod kod kodami kode kodu kodem kody codigo codigos clave claves codice codici
		usercode installercode mastercode accesscode zugangscode benutzercode errichtercode
		anwendercode mastercode servicecode gebruikerscode installateurscode toegangscode`)
	// pinNouns are codes too, but "pin 4" is also a terminal.
	pinNouns = set(`pin pins pincode pincodes pinnummer pinkod passcode passcodes kennzahl geheimzahl`)
	// wordNouns stand for a secret of any characters.
	wordNouns = set(`pw psw pwrd passw mdp pass password passwords passwd passwort passworte pwd passphrase kennwort haslo hasla
		contrasena wachtwoord wachtwoorden pswd codeword losung`)
	// keyNouns stand for a token of a machine.
	keyNouns = set(`token tokens bearer apikey secret`)

	// harmlessBefore makes a code that is no secret: error code 23.
	harmlessBefore = set(`error event fault status reason post postal zip bar colour color date dial area
		country product part type model resistor report reporting sia trouble alarmevent fehler ereignis
		farb datums fout storing gebeurtenis source diagnostic blink flash exit return system batch
		lot order item stock serial safety apn mcc mnc sort region dress building practice point`)
	// harmlessHeads are the first parts of compounds that are no secret either.
	harmlessHeads = set(`storung fehler farb farben strich blink ereigni stoerung storing kleur datum datums event post
		status source quell material artikel produkt land lander gerat typ meld meldung steuer zahlen morse druck kal`)

	// harmlessAfter does the same behind it: kod błędu 23.
	harmlessAfter = set(`error errors event erreur errore fehler fallo bledu usterki zdarzenia evento
		evenement derreur panne guasto defaut fault postal barres barre barras colore couleur colores
		kreskowy pocztowy postale page lock locks reader`)

	// between are the words that may stand between the noun and its code.
	between = set(`is was are be as s it its the a an my our your his her their of for to now new old set
		changed change still again here and or number numbers no nr num installer installers engineer
		engineers user users master default factory customer customers alarm panel system keypad door
		site access level entered typed tried tries use used uses using works work working accepted accept
		accepts take takes with not doesnt does wont will dont do t isnt reset put in enter type try key
		keyed at from get got gives gave this that current temporary temp one
		ist war lautet lauten fur der die das den des vom zum neu neue neuer jetzt mein meine errichter
		benutzer nutzer techniker zentrale anlage kunde kunden und oder geht nicht auf eingeben
		jest byl brzmi nowy stary to dla instalatora uzytkownika serwisowy glowny moj i lub nie dziala
		es era del de la el para instalador usuario maestro nuevo mi y o no funciona
		est etait du le les pour installateur utilisateur nouveau mon et ou ne marche pas c
		e era il di per installatore utente nuovo mio ed non
		was is van voor gebruiker installateur nieuwe mijn en werkt niet`)

	// noWord are words that tell about a password instead of being one.
	noWord = set(`wrong right not incorrect expired needed required unknown lost forgotten ok okay correct
		set the a an my his her their there missing invalid rejected accepted refused changed blocked
		locked gone default different same still now known too also only asked ask being to for by from in
		on and or that this what it empty blank new old
		falsch richtig nicht unbekannt weg vergessen gesperrt neu kein jest zle nieznane zgubione
		incorrecta perdida faux perdu inconnu sbagliata errata verkeerd kwijt fout onbekend`)

	// joins bind several codes into a row.
	joins = set(`and or then und oder y o et ou e i lub en of resp`)

	// units make a number a measurement.
	units = set(`ms us kbit v volt volts vdc vac mv kv a amp amps ma ah mah ohm ohms k kohm kohms r w m mm cm km ft in
		inch inches metre metres meter meters db dbm min mins minute minutes s sec secs second seconds h hr
		hrs hour hours d day days week weeks month months year years percent pct prozent procent c f hz khz
		mhz x times zones zone users devices digits digit kg am pm uhr`)

	// numberBefore makes a long number something other than a telephone's.
	numberBefore = set(`serial serials sn ser seriennummer serie account acct konto cuenta compte conto ref
		reference order ticket job invoice mac imei iccid imsi sim id ident identity part article version
		firmware fw zone zones numer seryjny serienummer serienr apn ip gps`)

	// dated stand in front of a year, which is no code: changed in 2019.
	dated = set(`in since from until till before after year built made dated installed im seit von bis jahr baujahr
		od do rok roku z en desde hasta ano del depuis annee an dal nel anno sinds tot jaar vanaf uit`)

	phoneWords = set(`tel telephone phone mobile cell call ring text sms whatsapp handy telefon telefoon mobil
		anrufen komorka telefonu zadzwon telefono movil llamar portable appeler cellulare chiamare gsm bel
		fone number nummer`)

	spelled = set(`zero oh one two three four five six seven eight nine double
		null eins zwei drei vier funf sechs sieben acht neun`)
)

// tokenPrefixes begin the tokens of well-known services (Slack, GitHub, a JSON
// Web Token after RFC 7519, cloud access keys).
var tokenPrefixes = []struct {
	prefix string
	least  int // characters in all
}{
	{"xoxb-", 10}, {"xoxp-", 10}, {"xoxa-", 10}, {"xoxr-", 10}, {"xoxs-", 10}, {"xoxe-", 10}, {"xoxe.", 10}, {"xapp-", 10},
	{"xwfp-", 10}, {"ghp_", 16}, {"gho_", 16}, {"ghu_", 16}, {"ghs_", 16}, {"ghr_", 16}, {"github_pat_", 20},
	{"glpat-", 14}, {"sk-", 20}, {"AKIA", 20}, {"eyJ", 20},
}
