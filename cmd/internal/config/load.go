package config

import (
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"

	"github.com/go-viper/mapstructure/v2"
	"github.com/spf13/pflag"
	"github.com/spf13/viper"

	"example.org/windrow/ingest"
)

// NoOffice is the code of the one reason that a command may choose to live
// with: the folder holds no settings file. See [Defaults].
const NoOffice = "no-office"

// An Origin says where a value came from. The zero Origin is the default.
type Origin struct {
	Place ingest.Place // in the settings file
	Env   string       // name of the environment variable
	Flag  string       // name of the flag, without dashes
}

// String is "default", "windrow.yaml:12", "WINDROW_WORKERS" or "--workers".
func (o Origin) String() string {
	switch {
	case o.Flag != "":
		return "--" + o.Flag
	case o.Env != "":
		return o.Env
	case !o.Place.IsZero():
		return ingest.Place{File: o.Place.File, Line: o.Place.Line}.String()
	}
	return "default"
}

// place is the origin as the place of a reason.
func (o Origin) place() ingest.Place {
	if o.Flag != "" || o.Env != "" {
		return ingest.Place{File: o.String()}
	}
	return o.Place
}

// flagMark is the annotation by which Load knows a flag that sets a setting
// from one that merely has the same name.
const flagMark = "windrow-setting"

// AddFlags gives a command the flags that set these settings. It panics on a
// key that does not exist or cannot be a flag, which is a programmer's error.
func AddFlags(fs *pflag.FlagSet, keys ...string) {
	for _, k := range keys {
		f, ok := field(k)
		if !ok || f.Flag() == "" {
			panic("config: no flag can set " + k)
		}
		fs.Var(&flagValue{f: f}, f.Flag(), f.Doc)
		fs.Lookup(f.Flag()).Annotations = map[string][]string{flagMark: {k}}
	}
}

// A flagValue checks a flag when it is read, so that a wrong one is an error
// of usage.
type flagValue struct {
	f    Field
	text string
}

func (v *flagValue) String() string { return v.text }

func (v *flagValue) Type() string { return strings.ReplaceAll(string(v.f.Kind), " ", "-") }

func (v *flagValue) Set(s string) error {
	if _, ok := v.f.parse(s); !ok {
		return &ingest.Reason{Code: "setting-type", Severity: ingest.Fail, Where: ingest.Place{File: "--" + v.f.Flag()},
			What: "the value of " + v.f.Key + " is not of the kind it must be", Expected: v.f.Wants(), Found: found(v.f, s)}
	}
	v.text = s
	return nil
}

func found(f Field, s string) string {
	if f.Secret {
		return "a value that is not shown"
	}
	return "the text " + quoted(s)
}

// Load reads the settings of the office in officeDir: its windrow.yaml, the
// environment, and those flags that AddFlags gave. It returns either a Config
// or every reason why there is none. flags may be nil.
func Load(officeDir string, flags *pflag.FlagSet) (*Config, []*ingest.Reason) {
	return load(officeDir, flags)
}

// Defaults is an office without a settings file, with the environment and the
// flags heeded: for commands that only read and print, such as show.
func Defaults(dir string, flags *pflag.FlagSet) (*Config, []*ingest.Reason) {
	return build(dir, parseFile(nil), flags)
}

func load(dir string, flags *pflag.FlagSet) (*Config, []*ingest.Reason) {
	b, r := readFile(dir)
	if r != nil {
		return nil, []*ingest.Reason{r}
	}
	return build(dir, parseFile(b), flags)
}

// delimiter parts the levels of a key inside viper. It is not the dot, which
// may stand in a value's own name; no key holds this one.
const delimiter = "::"

func viperKey(key string) string { return strings.ReplaceAll(key, ".", delimiter) }

func build(dir string, fv *fileValues, flags *pflag.FlagSet) (*Config, []*ingest.Reason) {
	reasons := fv.reasons
	abs, err := filepath.Abs(dir)
	if err != nil {
		return nil, append(reasons, ingest.AsReason(err))
	}
	env := map[string]string{}
	for _, e := range os.Environ() {
		if k, v, ok := strings.Cut(e, "="); ok && strings.HasPrefix(k, envPrefix) && v != "" {
			env[k] = v
		}
	}
	c := &Config{Dir: abs, from: map[string]Origin{}, written: map[string]any{}}
	c.empty = len(fv.places) == 0
	for k, at := range fv.places {
		if strings.HasPrefix(k, "folders[") {
			c.from[k] = Origin{Place: at}
		}
	}
	v := viper.NewWithOptions(viper.KeyDelimiter(delimiter))
	file := map[string]any{}
	for _, f := range Spec() {
		key := viperKey(f.Key)
		v.SetDefault(key, viperDefault(f))
		if x, ok := fv.values[f.Key]; ok {
			put(file, f.Key, x)
			c.from[f.Key] = Origin{Place: fv.places[f.Key]}
		}
		if f.Kind == List {
			if fv.folders != nil {
				put(file, f.Key, fv.folders)
				c.from[f.Key] = Origin{Place: fv.places[f.Key]}
			}
			continue
		}
		if s, ok := env[f.Env()]; ok {
			c.from[f.Key] = Origin{Env: f.Env()}
			if _, ok := f.parse(s); !ok {
				reasons = append(reasons, &ingest.Reason{Code: "setting-type", Severity: ingest.Fail, Where: ingest.Place{File: f.Env()},
					What: "the environment variable does not hold what " + f.Key + " must be", Expected: f.Wants(), Found: found(f, s),
					Next: "correct the variable, or take it out"})
			} else if err := v.BindEnv(key, f.Env()); err != nil {
				reasons = append(reasons, ingest.AsReason(err))
			}
		}
	}
	reasons = append(reasons, strayVariables(env)...)
	if flags != nil {
		flags.VisitAll(func(fl *pflag.Flag) {
			if keys := fl.Annotations[flagMark]; len(keys) == 1 && fl.Changed {
				if err := v.BindPFlag(viperKey(keys[0]), fl); err != nil {
					reasons = append(reasons, ingest.AsReason(err))
				}
				c.from[keys[0]] = Origin{Flag: fl.Name}
			}
		})
	}
	if err := v.MergeConfigMap(file); err != nil {
		reasons = append(reasons, ingest.AsReason(err))
	}
	if err := v.UnmarshalExact(c, asWritten); err != nil {
		return nil, append(reasons, ingest.AsReason(err))
	}
	c.remember()
	c.resolve()
	if c.Engine.Used() {
		c.Index = c.Engine.Database
	}
	reasons = append(reasons, c.validate(fv.places, len(reasons) > 0)...)
	if len(reasons) > 0 {
		return nil, reasons
	}
	return c, nil
}

// asWritten switches off the conversions that viper makes unasked: with them an
// empty text becomes the number 0. Only the texts of flags and of the
// environment, already checked by their field, are turned into other types.
func asWritten(dc *mapstructure.DecoderConfig) {
	dc.WeaklyTypedInput = false
	dc.DecodeHook = mapstructure.DecodeHookFuncValue(fromText)
}

// viperDefault is a default in the shape that the file's values have.
func viperDefault(f Field) any {
	list, ok := f.Default.([]Folder)
	if !ok {
		return f.Default
	}
	out := make([]map[string]any, len(list))
	for i, d := range list {
		out[i] = map[string]any{"path": d.Path}
	}
	return out
}

// put sets a dotted key in nested maps.
func put(m map[string]any, key string, v any) {
	block, name, nested := strings.Cut(key, ".")
	if !nested {
		m[key] = v
		return
	}
	sub, ok := m[block].(map[string]any)
	if !ok {
		sub = map[string]any{}
		m[block] = sub
	}
	sub[name] = v
}

// allowed are variables with our prefix that are not settings: WINDROW_OFFICE
// names the office folder, and the rest are set by container engines for a
// service that is called windrow.
func allowed(name string) bool {
	rest := strings.TrimPrefix(name, envPrefix)
	return rest == "OFFICE" || rest == "PORT" || rest == "NAME" ||
		strings.HasPrefix(rest, "PORT_") || strings.HasPrefix(rest, "SERVICE_")
}

// strayVariables finds environment variables that look like ours and set
// nothing, so that a mistyped one is not silently without effect. Their
// values are not shown.
func strayVariables(env map[string]string) []*ingest.Reason {
	var names, known []string
	for _, f := range Spec() {
		if e := f.Env(); e != "" {
			known = append(known, e)
		}
	}
	for k := range env {
		if !slices.Contains(known, k) && !allowed(k) {
			names = append(names, k)
		}
	}
	slices.Sort(names)
	var out []*ingest.Reason
	for _, n := range names {
		r := &ingest.Reason{Code: "setting-unknown", Severity: ingest.Fail, Where: ingest.Place{File: n},
			What: "this environment variable begins with " + envPrefix + " but sets nothing", Expected: "the variable of a setting", Found: n}
		switch m := near(n, known); {
		case n == envPrefix+"FOLDERS":
			r.Next = "set folders in " + FileName + "; the list has no variable"
		case m != "":
			r.Next = "did you mean " + m + "?"
		default:
			r.Next = "take it out, or see windrow config check for the variables there are"
		}
		out = append(out, r)
	}
	return out
}

// remember keeps the values as written, for config check: a path that was
// written relative is shown relative.
func (c *Config) remember() {
	var walk func(v reflect.Value, prefix string)
	walk = func(v reflect.Value, prefix string) {
		for i := range v.NumField() {
			tag := v.Type().Field(i).Tag.Get("mapstructure")
			switch {
			case tag == "" || tag == "-":
			case v.Field(i).Kind() == reflect.Struct:
				walk(v.Field(i), prefix+tag+".")
			default:
				c.written[prefix+tag] = v.Field(i).Interface()
			}
		}
	}
	walk(reflect.ValueOf(*c), "")
	c.written["folders"] = slices.Clone(c.Folders)
}
