package export_test

import (
	"bytes"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze/dataset"
	"aplomb/cmd/internal/export"
	"aplomb/cmd/internal/output"
)

// Characters of several bytes stay whole where a writer of plain text takes the table.
func TestCSVAsPlainText(t *testing.T) {
	note := strings.Repeat("é", 5000)
	table := dataset.Table{Schema: dataset.Schema{Fields: []dataset.Field{{Name: "note", Type: dataset.Text}}}, Rows: [][]any{{note}}}
	var b bytes.Buffer
	require.NoError(t, export.CSV(output.NewChecked(&b), table))
	assert.Equal(t, "note\n"+note+"\n", b.String())
}
