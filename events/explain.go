package events

import (
	"errors"
	"reflect"
	"strconv"
	"strings"
	"time"

	"github.com/go-json-experiment/json"
	"github.com/go-json-experiment/json/jsontext"

	"github.com/pottrail/pottrail/tracker"
)

// explain turns an error of the JSON library into a fault with the contract's words.
func (r *reader) explain(err error) *fault {
	var semantic *json.SemanticError
	if errors.As(err, &semantic) {
		return r.explainMeaning(semantic)
	}
	var syntax *jsontext.SyntacticError
	if errors.As(err, &syntax) {
		if errors.Is(syntax.Err, jsontext.ErrDuplicateName) {
			return &fault{code: CodeDuplicateField, field: path(syntax.JSONPointer), detail: "is given twice; once is wanted"}
		}
		return &fault{code: CodeBadJSON, detail: "is not one JSON object in UTF-8: at byte " + strconv.FormatInt(syntax.ByteOffset+1, 10) + ", " + plain(syntax.Err)}
	}
	return &fault{code: CodeBadJSON, detail: "is not one JSON object in UTF-8: " + plain(err)}
}

// explainMeaning is for JSON that is well formed and does not say what the kind's facts say.
func (r *reader) explainMeaning(err *json.SemanticError) *fault {
	field := path(err.JSONPointer)
	if errors.Is(err.Err, json.ErrUnknownName) {
		names := r.memberNames(err.JSONPointer)
		return &fault{code: CodeUnknownField, field: field, detail: "is not known here; " + string(r.event.Kind) + " has " + names}
	}
	var code *tracker.CodeError
	if errors.As(err.Err, &code) {
		return &fault{code: Code(code.Reason), field: field, detail: "cannot be read: " + code.Error()}
	}
	if err.GoType == reflect.TypeFor[time.Time]() && err.JSONKind == '"' {
		text := unquoted(err.JSONValue)
		var parse *time.ParseError
		if errors.As(err.Err, &parse) {
			text = strings.Trim(parse.Value, `"`)
		}
		bad := badTime(text)
		bad.field = field
		return bad
	}
	bad := wrongKind(err.JSONKind, wanted(err.GoType))
	if len(err.JSONValue) > 0 && err.JSONKind == '0' {
		bad.detail = "is " + quote(string(err.JSONValue)) + "; " + wanted(err.GoType) + " is wanted"
	}
	bad.field = field
	return bad
}

// memberNames lists what may stand where an unknown member stood.
func (r *reader) memberNames(pointer jsontext.Pointer) string {
	plan := r.plan.fact
	for token := range pointer.Parent().Tokens() {
		if f := plan.field(token); f != nil && f.inner != nil {
			plan = f.inner
		}
	}
	return strings.Join(plan.names(), ", ")
}

// path writes a JSON pointer as people write fields: "/data/lesions/0/side" is "data.lesions[0].side".
func path(pointer jsontext.Pointer) string {
	var out strings.Builder
	for token := range pointer.Tokens() {
		if _, err := strconv.ParseUint(token, 10, 32); err == nil {
			out.WriteString("[" + token + "]")
			continue
		}
		if out.Len() > 0 {
			out.WriteByte('.')
		}
		out.WriteString(token)
	}
	return out.String()
}

func wrongKind(got jsontext.Kind, want string) *fault {
	return &fault{code: CodeWrongType, detail: "is " + article(got) + "; " + want + " is wanted"}
}

// article names a kind of JSON value for sentences.
func article(kind jsontext.Kind) string {
	switch kind {
	case '"':
		return "a text"
	case '0':
		return "a number"
	case 't', 'f':
		return "true or false"
	case '{':
		return "an object"
	case '[':
		return "a list"
	case 'n':
		return "null"
	}
	return "something else"
}

// wanted names the JSON value that a Go type is read from.
func wanted(t reflect.Type) string {
	if t == nil {
		return "another value"
	}
	if t.Kind() == reflect.Pointer {
		t = t.Elem()
	}
	switch {
	case t == reflect.TypeFor[time.Time]():
		return "a time as text"
	case t == reflect.TypeFor[tracker.Copy]():
		return "a copy, one of 1 to 9 and A to Z,"
	}
	switch t.Kind() {
	case reflect.String:
		return "a text"
	case reflect.Int:
		return "a whole number"
	case reflect.Float64:
		return "a number"
	case reflect.Bool:
		return "true or false"
	case reflect.Slice:
		return "a list"
	}
	return "an object"
}

func unquoted(raw jsontext.Value) string {
	text, err := jsontext.AppendUnquote(nil, raw)
	if err != nil {
		return string(raw)
	}
	return string(text)
}

// plain is an error of the JSON library without its package's name.
func plain(err error) string {
	if err == nil {
		return "it cannot be read"
	}
	text := strings.TrimPrefix(err.Error(), "jsontext: ")
	return strings.TrimPrefix(text, "json: ")
}

func tooLarge(size, limit int) *fault {
	return &fault{code: CodeTooLarge, detail: "has " + strconv.Itoa(size) + " bytes, and at most " + strconv.Itoa(limit) + " are taken"}
}
