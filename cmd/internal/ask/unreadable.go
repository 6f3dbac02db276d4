package ask

import (
	"errors"
	"fmt"

	"github.com/go-json-experiment/json"
	"github.com/go-json-experiment/json/jsontext"
)

// Unreadable says what is wrong with JSON in words, and where, without what stands there: a request may hold a patient, and
// sentences of errors go to places where no patient may stand.
func Unreadable(err error) string {
	var semantic *json.SemanticError
	var syntactic *jsontext.SyntacticError
	switch {
	case errors.As(err, &semantic) && errors.Is(semantic.Err, json.ErrUnknownName):
		return fmt.Sprintf("nothing is known of %s", semantic.JSONPointer)
	case errors.As(err, &semantic) && semantic.JSONPointer != "":
		return fmt.Sprintf("what stands at %s does not fit there", semantic.JSONPointer)
	case errors.As(err, &semantic):
		return "it is not of the shape that is wanted"
	case errors.As(err, &syntactic) && syntactic.JSONPointer != "":
		return fmt.Sprintf("it is no JSON at byte %d, within %s", syntactic.ByteOffset, syntactic.JSONPointer)
	case errors.As(err, &syntactic):
		return fmt.Sprintf("it is no JSON at byte %d", syntactic.ByteOffset)
	}
	return "it is no JSON, or it breaks off"
}
