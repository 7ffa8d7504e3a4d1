package mappings

import (
	"regexp"
	"strings"
)

// Laboratories also write their notes in Spanish. What such a note says of
// results is found by putting its words into English one by one, and looking
// at the outcome as at any other sentence: the words are few, and their order
// is nearly the same. Common practice, no source.

// spanish are the words that such notes have, without accents, and phrases that
// are not to be taken word by word.
var spanish = spanishWords(`
resultado=result resultados=results valor=value valores=values cifra=figure cifras=figures numero=number numeros=numbers dato=data datos=data
cantidad=amount cantidades=amounts concentracion=concentration concentraciones=concentrations unidad=unit unidades=units analisis=analysis
informe=report informes=reports reporte=report reportes=reports certificado=certificate certificados=certificates muestra=sample muestras=samples suelo=soil suelos=soil laboratorio=laboratory
preliminar=preliminary preliminares=preliminary provisional=provisional provisionales=provisional provisorio=provisional provisorios=provisional provisoria=provisional provisorias=provisional borrador=draft
definitivo=final definitivos=final definitiva=final definitivas=final final=final finales=final cambio=change cambios=change revision=review confirmacion=confirmation aprobacion=approval
confirmado=confirmed confirmados=confirmed confirmada=confirmed confirmadas=confirmed aprobado=approved aprobados=approved revisado=checked revisados=checked
pendiente_de=awaiting pendientes_de=awaiting sujeto_a=subject_to sujetos_a=subject_to sujeta_a=subject_to sujetas_a=subject_to
expresado=expressed expresados=expressed expresada=expressed expresadas=expressed expresan=are_expressed expresa=is_expressed dado=given dados=given dada=given dadas=given dan=are_given
indicado=stated indicados=stated indican=are_stated reportado=reported reportados=reported reportan=are_reported informado=reported informados=reported informan=are_reported
calculado=calculated calculados=calculated convertido=converted convertidos=converted
estan=are esta=is son=are es=is fue=was fueron=were han_sido=have_been ha_sido=has_been pueden=may deben=must debe=must como=as en=in por=by mediante=by segun=by con=with usando=using utilizando=using
metodo=method metodos=methods extraccion=extraction extraido=extracted extraidos=extracted extrajo=extracted determinado=determined determinados=determined determino=determined medido=measured medidos=measured analizado=analyzed analizados=analyzed
multiplicar=multiply multiplique=multiply multiplicado=multiplied multiplicados=multiplied multiplicarse=be_multiplied dividir=divide divida=divide dividido=divided divididos=divided
todo=all todos=all toda=all todas=all cada=each excepto=except salvo=except desde=from a_partir_de=starting ya_no=no_longer ahora=now no=not y=and el=the la=the los=the las=the de=of del=of este=this esta_vez=this_time estos=these
anterior=previous anteriores=previous humedo=moist humeda=moist humedos=moist humedas=moist fresco=fresh fresca=fresh tal_como_se_recibio=as_received seco=dry seca=dry secos=dry base=basis peso=weight volumen=volume oxido=oxide oxidos=oxides elemento=element elementos=elements
sustituye=replaces reemplaza=replaces anula=withdraws sustituido=replaced reemplazado=replaced anulado=withdrawn anulados=withdrawn anulada=withdrawn retirado=withdrawn corregido=corrected corregidos=corrected corregida=corrected enmendado=amended rectificado=amended modificado=amended
intercambiado=exchanged intercambiados=exchanged intercambiada=exchanged intercambiadas=exchanged confundido=mixed_up confundidos=mixed_up confundida=mixed_up confundidas=mixed_up
incorrecto=incorrect incorrectos=incorrect erroneo=erroneous erroneos=erroneous equivocado=wrong equivocados=wrong correccion=correction descarte=discard
por_debajo_de=below por_debajo_del=below debajo_de=below debajo_del=below por_encima_de=above por_encima_del=above menor_que=less_than mayor_que=greater_than no_detectado=not_detected no_detectada=not_detected estimado=estimated estimada=estimated diluido=diluted diluida=diluted traza=trace trazas=trace repetido=repeated invalido=invalid dudoso=questionable
fosforo=phosphorus potasio=potassium calcio=calcium magnesio=magnesium azufre=sulfur zinc=zinc cinc=zinc hierro=iron manganeso=manganese cobre=copper boro=boron plomo=lead arsenico=arsenic cadmio=cadmium niquel=nickel cromo=chromium mercurio=mercury sodio=sodium nitrato=nitrate nitratos=nitrate fosfato=phosphate sulfato=sulfate potasa=potash materia_organica=organic_matter
libras_por_acre=lb/acre partes_por_millon=ppm kilogramos_por_hectarea=kg/ha kilos_por_hectarea=kg/ha miligramos_por_kilogramo=mg/kg miligramos_por_kilo=mg/kg miligramos_por_litro=mg/L gramos_por_kilogramo=g/kg gramos_por_kilo=g/kg por_ciento=%
matriz=matrix agua=water lixiviado=leachate estiercol=manure lodo=sludge planta=plant plantas=plants hoja=leaf hojas=leaves tejido=tissue tipo_de_muestra=sample_type
aplicar=apply aplique=apply aplicacion=application recomendado=recommended recomienda=recommend recomendacion=recommendation recomendaciones=recommendations dosis=rate fertilizante=fertilizer fertilizantes=fertilizers abono=fertilizer limite=limit limites=limits
`)

// notSpanish are words of it that English or another use has as well: by
// themselves they say nothing of the language.
var notSpanish = map[string]bool{"provisional": true, "final": true, "base": true, "no": true, "y": true, "en": true, "es": true, "son": true, "con": true, "de": true, "la": true, "el": true, "los": true, "las": true, "del": true, "por": true, "este": true, "zinc": true, "dan": true, "todo": true, "divida": true, "plantas": true}

// longestPhrase is of how many words the longest phrase is.
const longestPhrase = 4

func spanishWords(list string) map[string]string {
	out := map[string]string{}
	for _, pair := range strings.Fields(list) {
		es, en, _ := strings.Cut(pair, "=")
		out[strings.ReplaceAll(es, "_", " ")] = strings.ReplaceAll(en, "_", " ")
	}
	return out
}

var unaccented = strings.NewReplacer("á", "a", "é", "e", "í", "i", "ó", "o", "ú", "u", "ü", "u", "Á", "A", "É", "E", "Í", "I", "Ó", "O", "Ú", "U", "Ü", "U")

// adjective is one that stands behind its noun, where English has it before.
var adjective = regexp.MustCompile(`\b(results?|reports?|certificates?|figures?|values?|analysis|data) (preliminary|provisional|corrected|amended|wrong|erroneous|incorrect)\b`)

// gloss puts a Spanish text into English word by word; "" where it is none.
func gloss(text string) string {
	fields := strings.Fields(text)
	var out []string
	sure := false
	for i := 0; i < len(fields); {
		n := min(longestPhrase, len(fields)-i)
		for ; n > 0; n-- {
			phrase := strings.Join(fields[i:i+n], " ")
			core := strings.Trim(phrase, ".,;:!()\"'*")
			word := strings.ToLower(unaccented.Replace(core))
			if en, ok := spanish[word]; ok && core != "" {
				out = append(out, strings.Replace(phrase, core, en, 1))
				sure = sure || !notSpanish[word]
				break
			}
		}
		if n == 0 {
			out = append(out, fields[i])
			n = 1
		}
		i += n
	}
	if !sure {
		return ""
	}
	return adjective.ReplaceAllString(strings.Join(out, " "), "$2 $1")
}
