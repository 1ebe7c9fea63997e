package main

import (
	"fmt"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"longside/planner/sheet"
)

// newSheet is the command that writes the run sheet again, another way.
func newSheet(a *app) *cobra.Command {
	var (
		o     sheet.Options
		ff    fontFlags
		out   string
		dpi   float64
		force bool
	)
	o.Page = "A4"
	c := &cobra.Command{
		Use:   "sheet PLAN",
		Short: "Write the run sheet from a plan: page, text or HTML",
		Long: `Write the run sheet from a plan.json, or from the folder that holds it.

The ending of -o chooses: .pdf, .svg or .png for pages to lay beside the deck,
.txt for plain text, .html for a telephone or a browser. -o - prints the text.`,
		Example: `  longside sheet crossing -o sheet.html
  longside sheet crossing/plan.json -o -`,
		Args: onePlan,
		RunE: func(c *cobra.Command, args []string) error {
			ending := strings.ToLower(filepath.Ext(out))
			switch {
			case out == "-":
			case ending == ".pdf", ending == ".svg", ending == ".png", ending == ".txt", ending == ".html", ending == ".htm":
			default:
				return fmt.Errorf("-o %s: writes to a name that ends in .pdf, .svg, .png, .txt or .html, or to - as text", out)
			}
			p, err := loadPlan(args[0])
			if err != nil {
				return err
			}
			if out == "-" {
				_, err := fmt.Fprint(a.out, sheet.Text(p, a.width))
				return err
			}
			var files []output
			switch ending {
			case ".txt":
				files = []output{{out, []byte(sheet.Text(p, 80))}}
			case ".html", ".htm":
				files = []output{{out, sheet.HTML(p, o)}}
			default:
				f, err := ff.load()
				if err != nil {
					return err
				}
				o.Language = ff.lang
				doc, notes, err := sheet.Draw(p, o, f)
				if err != nil {
					return err
				}
				if files, err = drawnAs(doc, out, dpi); err != nil {
					return err
				}
				defer a.remarks(filepath.Base(out), sheetWords(notes))
			}
			if err := a.writeAll(c.Context(), files, false, force); err != nil {
				return err
			}
			a.showDrawn(files)
			return nil
		},
	}
	fl := c.Flags()
	fl.SortFlags = false
	fl.StringVarP(&out, "output", "o", sheetName, "file to write; .pdf, .svg, .png, .txt or .html; - prints text")
	fl.Var(oneOf(&o.Page, "A4", "Letter"), "page", "paper size")
	ff.add(fl)
	fl.Float64Var(&dpi, "dpi", 150, "dots an inch of a PNG")
	fl.BoolVar(&force, "force", false, "replace files that exist")
	c.RegisterFlagCompletionFunc("page", cobra.FixedCompletions([]string{"A4", "Letter"}, cobra.ShellCompDirectiveNoFileComp))
	return c
}
