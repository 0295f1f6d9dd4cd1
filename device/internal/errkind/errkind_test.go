package errkind_test

import (
	"errors"
	"fmt"
	"io/fs"
	"testing"

	"github.com/stretchr/testify/assert"

	"aplomb/device/internal/errkind"
)

func TestWith(t *testing.T) {
	kind := errors.New("kind")
	err := errkind.With(kind, fmt.Errorf("a text: %w", fs.ErrExist))
	assert.EqualError(t, err, "a text: file already exists")
	assert.ErrorIs(t, err, kind)
	assert.ErrorIs(t, err, fs.ErrExist)
	assert.NotErrorIs(t, err, fs.ErrNotExist)
	assert.NoError(t, errkind.With(kind, nil))
}
