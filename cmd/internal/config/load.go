package config

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"reflect"
	"regexp"
	"slices"
	"strings"

	"github.com/pelletier/go-toml/v2"
	"github.com/spf13/pflag"
)

// AddFlags registers the options of the parts; what they set wins over environment and file.
func (o *Options) AddFlags(flags *pflag.FlagSet, parts ...Part) {
	for _, s := range o.settings(parts...) {
		flags.Var(&flagValue{s}, s.name, s.help)
		flags.Lookup(s.name).NoOptDefVal = s.alone
	}
}

type flagValue struct{ setting }

func (v *flagValue) String() string {
	if v.get == nil {
		return ""
	}
	return v.get()
}
func (v *flagValue) Set(s string) error { return v.set(s) }

// Type is how help shows what follows the option: nothing after a switch.
func (v *flagValue) Type() string {
	if v.alone != "" {
		return "bool"
	}
	return "text"
}

// Load fills in, for the options of the parts that were not given on the command line, what the environment and the
// configuration file say. File is the path of the configuration file; when it is empty the user's own is read if there
// is one. Errors name the option and where the value came from.
func (o *Options) Load(flags *pflag.FlagSet, file string, getenv func(string) string, parts ...Part) error {
	o.origin = map[string]string{}
	values, tables, path, err := o.readFile(file, getenv)
	if err != nil {
		return err
	}
	if slices.Contains(parts, PartDaemon) {
		if o.Printers, err = readPrinters(tables); err != nil {
			return fmt.Errorf("%s: %w", path, err)
		}
	}
	for _, s := range o.settings(parts...) {
		if f := flags.Lookup(s.name); f != nil && f.Changed {
			o.origin[s.name] = "command line"
			continue
		}
		if value := getenv(s.environment()); value != "" {
			if err := s.set(value); err != nil {
				return fmt.Errorf("environment %s: %w", s.environment(), err)
			}
			o.origin[s.name] = "environment " + s.environment()
			continue
		}
		if value, ok := values[s.name]; ok {
			if err := s.fromFile(value); err != nil {
				return fmt.Errorf("%s, key %s: %w", path, s.name, err)
			}
			o.origin[s.name] = path
		}
	}
	if slices.Contains(parts, PartDaemon) {
		return o.findKey(getenv)
	}
	return nil
}

func (s setting) fromFile(value any) error {
	switch v := value.(type) {
	case string:
		return s.set(v)
	case int64, bool:
		return s.set(fmt.Sprint(v))
	case []any:
		if !s.list {
			break
		}
		words := make([]string, 0, len(v))
		for _, item := range v {
			word, ok := item.(string)
			if !ok {
				return fmt.Errorf("%v is not a text", item)
			}
			words = append(words, word)
		}
		return s.set(strings.Join(words, ","))
	}
	return fmt.Errorf("%v does not fit: write a text or a number", value)
}

func (o *Options) names() []string {
	var names []string
	for _, s := range o.settings(PartFolder, PartDaemon, PartTLS) {
		names = append(names, s.name)
	}
	return names
}

// readFile reads the configuration file: a flat table of options, and tables of printers. A named file must exist, the user's
// own need not.
func (o *Options) readFile(path string, getenv func(string) string) (values map[string]any, tables map[string]printerTable, from string, err error) {
	named := path != ""
	if !named {
		if path = getenv("POTTRAIL_CONFIG"); path != "" {
			named = true
		} else if path = ownFile(getenv); path == "" {
			return nil, nil, "", nil
		}
	}
	data, err := os.ReadFile(path)
	if errors.Is(err, fs.ErrNotExist) && !named {
		return nil, nil, "", nil
	}
	if err != nil {
		return nil, nil, path, fmt.Errorf("configuration file: %w", err)
	}
	if err := toml.Unmarshal(data, &values); err != nil {
		return nil, nil, path, placed(path, err)
	}
	_, there := values[keyPrinters]
	delete(values, keyPrinters)
	// A second, strict reading knows the line of a key that means nothing.
	var strict struct {
		Printers map[string]printerTable `toml:"printers"`
	}
	err = toml.NewDecoder(bytes.NewReader(data)).DisallowUnknownFields().Decode(&strict)
	var unknown *toml.StrictMissingError
	if errors.As(err, &unknown) {
		err = o.unknownKey(path, unknown.Errors)
	} else if err != nil && there {
		err = placed(path, err)
	}
	return values, strict.Printers, path, err
}

// keyPrinters is the table of printers' tables.
const keyPrinters = "printers"

// placed adds the line to what cannot be read.
func placed(path string, err error) error {
	var bad *toml.DecodeError
	if errors.As(err, &bad) {
		line, column := bad.Position()
		if text := misfit(bad.Error()); text != "" {
			return fmt.Errorf("%s, line %d: %s", path, line, text)
		}
		return fmt.Errorf("%s, line %d, column %d: %w", path, line, column, err)
	}
	return fmt.Errorf("%s: %w", path, err)
}

// printerField is how the TOML library names a key of a printer whose value is of the wrong sort.
var printerField = regexp.MustCompile(`struct field config\.printerTable\.(\w+) of type `)

// misfit says in plain words that a value of a printer is of the wrong sort; "" when it is something else.
func misfit(text string) string {
	m := printerField.FindStringSubmatch(text)
	if m == nil {
		return ""
	}
	field, ok := reflect.TypeFor[printerTable]().FieldByName(m[1])
	if !ok {
		return ""
	}
	key, wanted := field.Tag.Get("toml"), "text in quotation marks"
	switch field.Type.Kind() {
	case reflect.Int:
		wanted = "a whole number"
	case reflect.Float64:
		wanted = "a number"
	case reflect.Slice:
		wanted = `a list of words, as in ["room-2"]`
	}
	if key == "dots_per_mm" {
		wanted += ": 203 dots an inch are 8 a millimetre, 300 are mostly 12, 600 mostly 24"
	}
	return key + " is " + wanted
}

// unknownKey refuses the first key that is neither an option nor known of a printer.
func (o *Options) unknownKey(path string, all []toml.DecodeError) error {
	for _, bad := range all {
		key := bad.Key()
		if len(key) == 0 || slices.Contains(o.names(), key[0]) {
			continue
		}
		line, _ := bad.Position()
		if key[0] == keyPrinters && len(key) > 1 {
			return fmt.Errorf("%s, line %d: printer %s: unknown key %q: a printer has %s", path, line, key[1], strings.Join(key[2:], "."), strings.Join(printerKeys(), ", "))
		}
		return fmt.Errorf("%s, line %d: unknown key %q: the keys are the options of serve and tables [printers.NAME]: %s", path, line, key[0], strings.Join(o.names(), ", "))
	}
	return nil
}

// ownFile is where a user's configuration is looked for.
func ownFile(getenv func(string) string) string {
	dir := getenv("XDG_CONFIG_HOME")
	if dir == "" && getenv("HOME") != "" {
		dir = filepath.Join(getenv("HOME"), ".config")
	}
	if dir == "" {
		return ""
	}
	return filepath.Join(dir, "pottrail", "pottrail.toml")
}

// Print writes what is in force as a configuration file, with where each value came from beside it. Nothing in it is
// a secret: keys and passwords are in files of the data folder and never in the options.
func (o *Options) Print(w io.Writer) error {
	settings := o.settings(PartFolder, PartDaemon, PartTLS)
	slices.SortStableFunc(settings, func(a, b setting) int { return strings.Compare(a.name, b.name) })
	for _, s := range settings {
		from := o.origin[s.name]
		if from == "" {
			from = "default"
		}
		if _, err := fmt.Fprintf(w, "%s = %q # %s\n", s.name, s.get(), from); err != nil {
			return err
		}
	}
	return o.printPrinters(w)
}
