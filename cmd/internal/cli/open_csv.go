package cli

import (
	"bytes"
	"encoding/csv"
	"errors"
	"io"
	"slices"
	"strings"

	"github.com/pottrail/pottrail/cmd/internal/ask"
)

// readClinicList reads a CSV clinic list. The separator is a comma or, when the heading has more of them, a semicolon.
func readClinicList(data []byte) ([]ask.OpenRequest, error) {
	heading, _, _ := bytes.Cut(data, []byte("\n"))
	r := csv.NewReader(bytes.NewReader(data))
	if bytes.Count(heading, []byte(";")) > bytes.Count(heading, []byte(",")) {
		r.Comma = ';'
	}
	r.TrimLeadingSpace = true
	columns, err := r.Read()
	if err != nil {
		return nil, unreadable("the clinic list's heading cannot be read: %w", err)
	}
	if !slices.ContainsFunc(columns, func(name string) bool { return slices.Contains(csvColumns, strings.ToLower(strings.TrimSpace(name))) }) {
		return nil, unreadable("the first line of the clinic list is no heading: put one above it, of %s", strings.Join(csvColumns, ", ")) // it may be a patient
	}
	for i, name := range columns {
		columns[i] = strings.ToLower(strings.TrimSpace(name))
		if !slices.Contains(csvColumns, columns[i]) {
			return nil, unreadable("the clinic list has a column %q, which means nothing here; there are: %s", name, strings.Join(csvColumns, ", "))
		}
		if slices.Contains(columns[:i], columns[i]) {
			return nil, unreadable("the clinic list has the column %q twice", name)
		}
	}
	var list []ask.OpenRequest
	byOrder := map[string]int{}
	for {
		record, err := r.Read()
		if errors.Is(err, io.EOF) {
			return list, nil
		}
		if err != nil {
			return nil, unreadable("the clinic list: %w", err)
		}
		line, _ := r.FieldPos(0)
		field := func(name string) string {
			if i := slices.Index(columns, name); i >= 0 {
				return strings.TrimSpace(record[i])
			}
			return ""
		}
		request, err := rowOf(field)
		if err != nil {
			return nil, unreadable("the clinic list, line %d: %w", line, err)
		}
		if at, seen := byOrder[request.Order]; seen && request.Order != "" {
			if list[at].Patient != request.Patient {
				return nil, unreadable("the clinic list, line %d: the order number stands for another patient above", line)
			}
			list[at].Lesions = append(list[at].Lesions, request.Lesions...)
			continue
		}
		byOrder[request.Order] = len(list)
		list = append(list, request)
	}
}

func rowOf(field func(string) string) (ask.OpenRequest, error) {
	r := ask.OpenRequest{Clinic: field("clinic"), Priority: field("priority"), Room: field("room"), Order: field("order"), Clinical: field("clinical"),
		Patient: ask.Patient{Family: field("family"), Given: field("given"), BirthDate: field("birth_date"),
			RecordNumber: field("record_number"), NationalNumber: field("national_number")}, NationalKind: field("national_kind"),
		Lesions: []ask.OpenLesion{{Organ: field("organ"), Side: field("side"), Position: field("position"), Target: field("target"),
			Imaging: field("imaging"), Studies: strings.Fields(strings.ReplaceAll(field("studies"), ",", " "))}}}
	var err error
	if r.Planned, err = timeOption("planned", field("planned")); err != nil {
		err = errors.New("planned is no time: write it with its offset, as in 2026-03-06T15:42:10+00:00") // what stands there may be a birth date
	}
	return r, err
}
