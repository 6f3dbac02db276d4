// Package config reads what a person may set about the daemon: addresses, paths, sizes, the log.
//
// Each part of the daemon has one Options struct, and all defaults stand in [Defaults]. A value comes from the first of
// these that has it: an option on the command line, the environment (POTTRAIL_ and the option's name in capitals), the
// configuration file (TOML, keys spelled like the options), the default. [Options.Print] shows what is in force and
// where each value came from.
//
// Label printers are tables of the file, one a printer ([Printer]); no option on the command line stands for them.
//
// It holds no rules of a clinic, which are a protocol, and no secrets, only where they are kept.
package config
